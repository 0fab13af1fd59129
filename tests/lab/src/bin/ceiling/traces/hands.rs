//! What hands do to a song ahead of its limiter: another balance, strokes of uneven force, louder fills,
//! a compressor on the bus.

use brunt_lab::corpus::audio::db;
use brunt_lab::corpus::process::compress::Compressor;
use brunt_lab::corpus::{Mix, Stereo};
use rand::Rng;
use rand_pcg::Pcg64Mcg;

/// Buses whose strokes are made uneven.
const DRUMS: &str = "drums";

/// Another balance: drums up to 7 dB up or down, every other bus up to 5 dB; the largest sample at -1 dBFS.
pub fn balance(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    let mut sum = Stereo::silence(mix.audio.rate, mix.audio.len());
    for (name, bus) in &mut mix.buses {
        let most = if name.starts_with(DRUMS) { 7.0 } else { 5.0 };
        bus.gain(db(rng.random_range(-most..most)));
        sum.add(bus, 0, 1.0, 1.0);
    }
    level(mix, sum);
}

/// A few strokes much harder than the rest, or much softer: ghost notes, accents, fills. The strokes are
/// those that the drums' truth names; without it, places four a second.
pub fn uneven(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    let rate = f64::from(mix.audio.rate);
    let mut times: Vec<f64> = mix.drum_truth().iter().map(|t| t.time_s).collect();
    if times.is_empty() {
        times = (0..(4.0 * mix.audio.seconds()) as u32).map(|n| f64::from(n) / 4.0).collect();
    }
    let share = rng.random_range(0.03..0.4);
    let (most, down) = (rng.random_range(2.0..9.0), rng.random_bool(0.35));
    let fill = rng.random_bool(0.3);
    let mut gain = vec![0.0_f32; mix.audio.len()];
    let last = times.last().copied().unwrap_or(0.0);
    for time in &times {
        // A fill is a stretch of strokes; accents are one here and one there.
        let chosen = if fill {
            (time / last.max(1.0) * 4.0).fract() < share
        } else {
            rng.random_bool(share)
        };
        if !chosen {
            continue;
        }
        let change = most * rng.random_range(0.5..1.0) * if down { -1.0 } else { 1.0 };
        let from = ((time - 0.004) * rate).max(0.0) as usize;
        let (rise, hold) = ((0.002 * rate) as usize, (0.14 * rate) as usize);
        for n in from..(from + hold).min(gain.len()) {
            let into = (n - from) as f32 / rise as f32;
            let left = (from + hold - n) as f32 / (hold / 2) as f32;
            let here = change as f32 * into.min(left).clamp(0.0, 1.0);
            if here.abs() > gain[n].abs() {
                gain[n] = here;
            }
        }
    }
    let name = mix.buses.keys().find(|name| name.starts_with(DRUMS)).copied();
    let Some(drums) = name.and_then(|name| mix.buses.get_mut(name)) else {
        return;
    };
    let mut change = drums.clone();
    for (n, db_of) in gain.iter().enumerate() {
        let by = 10_f32.powf(db_of / 20.0);
        change.left[n] *= by - 1.0;
        change.right[n] *= by - 1.0;
    }
    drums.add(&change, 0, 1.0, 1.0);
    let mut sum = mix.audio.clone();
    sum.add(&change, 0, 1.0, 1.0);
    level(mix, sum);
}

/// A compressor with drawn settings, from a bus compressor's slow attack to a levelling one's.
pub fn compressor(rng: &mut Pcg64Mcg) -> Compressor {
    Compressor {
        below_peak_db: rng.random_range(10.0..20.0),
        ratio: rng.random_range(1.5..5.0),
        attack_ms: rng.random_range(8.0..40.0),
        release_ms: rng.random_range(60.0..300.0),
    }
}

/// Takes `sum` for the mix, its largest sample at -1 dBFS and the buses with it.
fn level(mix: &mut Mix, mut sum: Stereo) {
    let by = db(-1.0) / sum.peak().max(f32::MIN_POSITIVE);
    sum.gain(by);
    mix.buses.values_mut().for_each(|bus| bus.gain(by));
    mix.audio = sum;
}

//! Shapes, spectra and waveforms of hits, in closed form or as the engine gives them.

use std::sync::Arc;

use brunt::display::Display;
use brunt_engine::{HIT_BANDS, HitWave, SHAPE_POINTS, SideRole, hit_band_hz, shape_ms};
use brunt_report::report::{BandReport, DrumShape, ShapeReport, SpectrumReport};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

use super::{before, reference};

/// A shape in closed form: it rises within `rise_ms` to `height_db`, falls by 6 dB in `fall_ms` to what
/// lies behind it, `behind_db` over the surroundings, with the next hit 254 ms on.
fn shape(height_db: f64, rise_ms: f64, fall_ms: f64, behind_db: f64) -> ShapeReport {
    let times: Vec<f64> = (0..SHAPE_POINTS).map(shape_ms).collect();
    let level = |ms: f64| {
        let falling = |ms: f64| (height_db + 1.0) - 6.0 * ms / fall_ms;
        let rising = 10.0 * (ms / rise_ms).clamp(1e-3, 1.0).log10();
        let floor = if ms <= 0.0 { -1.0 - 0.02 * ms.abs() } else { behind_db };
        let next = if ms > 254.0 { height_db - 4.0 } else { -99.0 };
        let hit = if ms > 0.0 { falling(ms) + rising } else { -99.0 };
        let power = |db: f64| 10f64.powf(db / 10.0);
        10.0 * (power(floor) + power(hit) + power(next)).log10()
    };
    let list = |of: &dyn Fn(f64) -> f64| times.iter().map(|ms| Some(of(*ms))).collect();
    ShapeReport {
        hits: 212,
        attack_ms: Some(rise_ms * 0.6),
        height_db: Some(height_db),
        space_db: Some(height_db - behind_db - 1.0),
        level_db: list(&level),
        low_db: list(&|ms| level(ms) - 2.2 - 0.01 * ms.abs()),
        high_db: list(&|ms| level(ms) + 1.9 + 0.01 * ms.abs()),
        peak_db: list(&|ms| level(ms) + if ms > 0.0 { 9.0 + 0.01 * ms } else { 11.0 }),
        peak_low_db: list(&|ms| level(ms) + 7.0),
        peak_high_db: list(&|ms| level(ms) + 13.0),
        times_ms: times,
    }
}

/// A display whose linked drum part plays kick and snare.
pub fn by_drum() -> Display {
    let mut display = shaved();
    let of = |drum: &str, shape| DrumShape { drum: drum.into(), file: "drums".into(), shape };
    display.drum_shapes = Arc::new(vec![
        of("kick", shape(10.6, 3.0, 60.0, 1.8)),
        of("snare", shape(6.2, 6.0, 24.0, 3.4)),
    ]);
    display
}

/// The display with the shape and the spectrum of its hits, their waveforms, and a third-octave
/// spectrum.
pub fn with_shape(mut display: Display) -> Display {
    display.shape = Some(Arc::new(shape(8.4, 4.0, 34.0, 2.6)));
    let bands = (0..HIT_BANDS).map(|k| {
        let x = k as f64;
        let db =
            9.0 * (-((x - 3.0) / 4.0).powi(2)).exp() + 11.0 * (-((x - 22.0) / 6.0).powi(2)).exp();
        BandReport {
            hz: hit_band_hz(k),
            over_db: Some(db - 0.6),
            low_db: Some((db - 3.2).max(-2.0)),
            high_db: Some(db + 2.8),
        }
    });
    display.spectrum = Some(Arc::new(SpectrumReport { hits: 212, bands: bands.collect() }));
    // Rises by 0.3 dB an octave against the curve, with a dip of 5 dB in the mids.
    display.readings.balance.thirds_dbfs = std::array::from_fn(|k| {
        let octaves = (k as f64 - 9.0) / 3.0;
        let dip = 5.0 * (-((k as f64 - 14.0) / 3.5).powi(2)).exp();
        Some(-20.0 - 2.35 * octaves - 0.66 * octaves.powi(2) + 0.3 * octaves - dip)
    });
    display
}

/// The same with the mix before the limiter on the side-chain.
pub fn shaved() -> Display {
    let mut display = with_shape(before());
    display.side_shape = Some(Arc::new(shape(12.6, 2.2, 22.0, 0.4)));
    let balance = &mut display.readings.balance;
    balance.before_thirds_dbfs = balance.thirds_dbfs;
    // The limiter takes a little of the lows, and an equalizer behind it lifts the highs.
    for (k, db) in balance.before_thirds_dbfs.iter_mut().enumerate() {
        *db = db.map(|db| db + 1.5 * (-(k as f64) / 6.0).exp() - 0.05 * k as f64);
    }
    display.waves =
        display.hits.iter().rev().take(256).rev().map(|placed| wave(placed.hit.index)).collect();
    display
}

/// The same with a reference there.
pub fn shape_of_reference() -> Display {
    let mut display = with_shape(reference());
    display.side_shape = Some(Arc::new(shape(10.1, 2.0, 30.0, 3.4)));
    display.readings.balance.reference_thirds_dbfs =
        with_shape(reference()).readings.balance.thirds_dbfs;
    for (k, db) in display.readings.balance.reference_thirds_dbfs.iter_mut().enumerate() {
        *db = db.map(|db| db + 4.0 * (-((k as f64 - 14.0) / 3.0).powi(2)).exp() - 0.08 * k as f64);
    }
    display
}

/// Waveforms as the engine gives them: a decaying low tone with a click, limited by a moving gain.
fn wave(hit: u64) -> HitWave {
    use brunt_engine::{Config, Meter, Sink};
    #[derive(Default)]
    struct Last(Option<HitWave>);
    impl Sink for Last {
        fn wave(&mut self, wave: &HitWave) {
            if wave.side.is_some() {
                self.0 = Some(*wave);
            }
        }
    }
    static WAVE: std::sync::OnceLock<HitWave> = std::sync::OnceLock::new();
    let mut wave = *WAVE.get_or_init(|| {
        let rate = 48_000usize;
        let mut random = Pcg64::seed_from_u64(5);
        let mut before = vec![0.0f32; rate * 4];
        for (n, x) in before.iter_mut().enumerate() {
            let noise: f32 = random.random_range(-1.0..1.0);
            let s = ((n + rate / 2) % rate) as f32 / rate as f32;
            let hit = (-s / 0.05).exp() * (std::f32::consts::TAU * 62.0 * s).sin()
                + 0.7 * noise * (-s / 0.012).exp();
            *x = 0.5 * hit + 0.05 * noise;
        }
        let mut gain = 1.0f32;
        let main: Vec<f32> = before
            .iter()
            .map(|x| {
                let wanted = (0.22 / x.abs().max(0.22)).min(1.0);
                gain = if wanted < gain { wanted } else { gain + (wanted - gain) * 3e-4 };
                2.0 * gain * x
            })
            .collect();
        let mut meter =
            Meter::new(Config { sample_rate_hz: rate as f64, channels: 1 }).expect("a rate");
        meter.set_side_role(SideRole::Before);
        meter.assume_side_delay(0.0);
        let mut last = Last::default();
        for (main, before) in main.chunks(512).zip(before.chunks(512)) {
            meter.process(&[main], Some(&[before]), &mut last);
        }
        meter.finish(&mut last);
        last.0.expect("a hit with its partner")
    });
    wave.hit = hit;
    wave
}

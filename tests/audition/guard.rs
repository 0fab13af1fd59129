//! True peak of what is heard, by the `ebur128` crate (ITU-R BS.1770, Annex 2) and by the
//! engine's own interpolator of the standard's coefficients.

use brunt::audition::{CHUNK, Guard, Heard};
use brunt_engine::TruePeak;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

use crate::rig::{RATE_HZ, Rig, cut, integrated, limited, song, true_peak, wish};

/// dBTP, the bar of the design.
const CEILING: f64 = -1.0;

fn guarded(input: &[Vec<f32>]) -> Vec<Vec<f32>> {
    let mut guard = Guard::new(RATE_HZ);
    let mut out = vec![Vec::new(); 2];
    for at in (0..input[0].len() - CHUNK).step_by(CHUNK) {
        let mut buses = [[0.0; CHUNK]; 2];
        for (bus, channel) in buses.iter_mut().zip(input) {
            bus.copy_from_slice(&channel[at..at + CHUNK]);
        }
        guard.process(&mut buses, CHUNK, CEILING);
        for (out, bus) in out.iter_mut().zip(&buses) {
            out.extend_from_slice(bus);
        }
    }
    out
}

fn ours(channels: &[Vec<f32>]) -> f64 {
    let peak = channels.iter().map(|c| TruePeak::new().process(c).inter).fold(0.0, f32::max);
    20.0 * f64::from(peak).log10()
}

/// Signals that are hard on a limiter: noise far over, tones at fractions of the rate at which
/// the peak lies between the samples, single clicks, bursts, sparse spikes.
fn hard() -> Vec<(String, Vec<Vec<f32>>)> {
    let mut random = Pcg64::seed_from_u64(3);
    let mut cases = Vec::new();
    let frames = 3 * RATE_HZ as usize;
    let mut add = |name: &str, level: f64, make: &mut dyn FnMut(usize) -> f64| {
        let channel: Vec<f32> = (0..frames).map(|n| (level * make(n)) as f32).collect();
        cases.push((format!("{name} at {level}"), vec![channel.clone(), channel]));
    };
    for level in [0.9, 1.5, 4.0, 16.0] {
        add("noise", level, &mut |_| random.random_range(-1.0..1.0));
        let mut random = Pcg64::seed_from_u64(4);
        add("spikes", level, &mut |_| {
            if random.random_bool(0.003) { random.random_range(-1.0..1.0) } else { 0.0 }
        });
        for (name, step) in [("fs/4", 0.25), ("fs/6", 1.0 / 6.0), ("0.45 fs", 0.45)] {
            add(name, level, &mut |n| {
                let gate = if (n / 3_000).is_multiple_of(2) { 1.0 } else { 0.2 };
                gate * (std::f64::consts::TAU * (step * n as f64 + 0.125)).sin()
            });
        }
        let mut random = Pcg64::seed_from_u64(5);
        add("bursts", level, &mut |n| {
            (-((n % 4_800) as f64) / 400.0).exp() * random.random_range(-1.0..1.0)
        });
    }
    cases
}

#[test]
fn nothing_gets_over_the_ceiling() {
    let mut worst = f64::NEG_INFINITY;
    for (name, input) in hard() {
        let out = guarded(&input);
        let (theirs, ours) = (true_peak(&out), ours(&out));
        worst = worst.max(ours).max(theirs);
        assert!(ours <= CEILING, "{name}: {ours:.3} dBTP");
        // The reference interpolates with another filter, of 49 taps: it may read noise of full
        // bandwidth differently from the standard's twelve taps a phase by some tenths.
        assert!(theirs <= CEILING + 0.4, "{name}: {theirs:.3} dBTP by ebur128");
    }
    println!("largest: {worst:.3} dBTP");
}

#[test]
fn what_lies_under_the_ceiling_is_only_delayed() {
    let input = limited(&song(3.0, 20), -3.0, 0.8);
    let out = guarded(&input);
    let delay = Guard::new(RATE_HZ).delay();
    assert_eq!(out[0][delay..], input[0][..out[0].len() - delay]);
}

#[test]
fn a_boosted_side_chain_stays_under_the_ceiling_and_says_so() {
    let before = song(12.0, 21);
    let mix = limited(&before, 12.0, 0.8);
    let mut rig = Rig::new(441);
    rig.play(&mix, &before, Some(0), wish(Heard::Mix));
    assert_eq!(rig.status().guard_db, None, "not heard, not acting");
    let out = rig.play(&mix, &before, Some(0), wish(Heard::Side));
    // From the end of the switch on: on the way the mix itself is part of it.
    let heard = cut(&out, 960, out[0].len());
    let status = rig.status();
    println!(
        "gain {:.2} dB, guard {:.2} dB, true peak {:.3} dBTP, {:+.2} LU from the mix",
        status.gain_db.expect("matched"),
        status.guard_db.unwrap_or(0.0),
        ours(&heard),
        integrated(&heard) - integrated(&mix),
    );
    assert!(status.gain_db.expect("matched") > 3.0);
    assert!(ours(&heard) <= CEILING && true_peak(&heard) <= CEILING + 0.4);
    assert!(status.guard_db.expect("acts") > 1.0);
}

#[test]
fn a_side_chain_turned_down_is_not_bent_under_full_scale() {
    let mix = limited(&song(8.0, 22), -12.0, 1.0);
    let loud = limited(&mix, 6.0, 0.95);
    let mut rig = Rig::new(441);
    rig.play(&mix, &loud, Some(0), wish(Heard::Mix));
    rig.play(&mix, &loud, Some(0), wish(Heard::Side));
    assert_eq!(rig.status().guard_db, None);
}

//! Closed forms of crest factor, PLR and PSR.
//!
//! The meter has no plain RMS, so crest factor is read as peak less loudness, with the weighting's
//! known gain for that spectrum taken out again: crest = sample peak - (I + 0.691 - gain).

use crate::rig::{RATES_HZ, Rig, close, k_gain_48k_db};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::f64::consts::{PI, TAU};

/// Crest factor, dB, of a mono signal for which the weighting has `gain_db`.
fn crest_db(rig: &mut Rig, gain_db: f64) -> Option<f64> {
    let got = rig.settled();
    Some(got.sample_peak_dbfs? - (got.integrated_lufs? + 0.691 - gain_db))
}

/// Power of the weighting, dB, on white noise at 48 kHz: its mean over all frequencies.
fn k_gain_white_db() -> f64 {
    const STEPS: u32 = 24_000;
    let hz = |step: u32| (f64::from(step) + 0.5) * 24_000.0 / f64::from(STEPS);
    let sum: f64 = (0..STEPS).map(|s| 10_f64.powf(k_gain_48k_db(hz(s)) / 10.0)).sum();
    10.0 * (sum / f64::from(STEPS)).log10()
}

/// Mean square of a standard normal variable clipped at `c`: 1 - 2 (c phi(c) + (1 - c^2) Q(c)).
fn clipped_gaussian_power(c: f64) -> f64 {
    // Integrated by Simpson's rule, so that no error function is needed.
    const STEPS: u32 = 20_000;
    let density = |x: f64| (-0.5 * x * x).exp() / TAU.sqrt();
    let h = 12.0 / f64::from(STEPS);
    (0..=STEPS)
        .map(|step| {
            let x = f64::from(step) * h;
            let weight = match step {
                0 | STEPS => 1.0,
                odd if odd % 2 == 1 => 4.0,
                _ => 2.0,
            };
            2.0 * weight * density(x) * x.min(c).powi(2) * h / 3.0
        })
        .sum()
}

/// Gaussian noise clipped at c sigma: crest factor by closed form, tolerance 0.05 dB (60 s of
/// noise leave 0.01 dB of chance). Clipped white noise is still white, so the weighting's gain is
/// that for white noise.
#[test]
fn crest_of_clipped_gaussian_noise() {
    let crests = [(4.0, 12.04), (3.0, 9.56), (2.5, 8.06), (2.0, 6.38), (1.5, 4.61), (1.0, 2.87)];
    let gain_db = k_gain_white_db();
    for (c, want) in crests {
        let recomputed = 10.0 * (c * c / clipped_gaussian_power(c)).log10();
        assert!((recomputed - want).abs() < 0.006, "c = {c}: the closed form gives {recomputed}");

        let mut random = Pcg64::seed_from_u64(3342);
        let noise: Vec<f32> = (0..48_000 * 30)
            .flat_map(|_| {
                // Box and Muller's pair of normal variables.
                let radius = (-2.0 * (1.0 - random.random::<f64>()).ln()).sqrt();
                let (sin, cos) = (TAU * random.random::<f64>()).sin_cos();
                [radius * cos, radius * sin].map(|x| (0.1 * x.clamp(-c, c)) as f32)
            })
            .collect();
        let mut rig = Rig::new(48_000, 1);
        rig.play(&noise);
        close(&format!("clipped at {c} sigma"), crest_db(&mut rig, gain_db), want, 0.05);
    }
}

/// A sine driven into a hard clipper: crest factor by closed form, tolerance 0.02 dB. The
/// weighting's gain is the mean over the harmonics, found by a Fourier sum over one cycle.
#[test]
fn crest_of_a_clipped_sine() {
    const CYCLE: usize = 480;
    for (drive_db, want) in [(0.0, 3.01), (3.0, 1.67), (6.0, 1.07), (12.0, 0.49), (24.0, 0.12)] {
        let drive = 10_f64.powf(drive_db / 20.0);
        let recomputed = -10.0 * clipped_sine_power(drive).log10();
        assert!((recomputed - want).abs() < 0.006, "{drive_db} dB: closed form {recomputed}");

        let cycle: Vec<f64> = (0..CYCLE)
            .map(|n| (drive * (TAU * n as f64 / CYCLE as f64).sin()).clamp(-1.0, 1.0))
            .collect();
        let (mut plain, mut weighted) = (0.0, 0.0);
        for harmonic in 1..CYCLE / 2 {
            let (mut re, mut im) = (0.0, 0.0);
            for (n, x) in cycle.iter().enumerate() {
                let (sin, cos) = (TAU * (harmonic * n) as f64 / CYCLE as f64).sin_cos();
                re += x * cos;
                im += x * sin;
            }
            let power = re * re + im * im;
            let hz = harmonic as f64 * 48_000.0 / CYCLE as f64;
            plain += power;
            weighted += power * 10_f64.powf(k_gain_48k_db(hz) / 10.0);
        }
        let gain_db = 10.0 * (weighted / plain).log10();

        let mut rig = Rig::new(48_000, 1);
        let samples: Vec<f32> = cycle.iter().map(|&x| x as f32).collect();
        for _ in 0..1_000 {
            rig.play(&samples);
        }
        close(&format!("drive {drive_db} dB"), crest_db(&mut rig, gain_db), want, 0.02);
    }
}

/// Mean square of sin x driven by `drive` into a clipper at 1.
fn clipped_sine_power(drive: f64) -> f64 {
    let corner = (1.0 / drive).asin();
    let below = drive * drive * (corner / 2.0 - (2.0 * corner).sin() / 4.0);
    (below + PI / 2.0 - corner) * 2.0 / PI
}

/// 997 Hz, stereo, 0 dBFS, on for 100 ms of every second: the gate removes the gaps. Tolerance
/// 0.05 dB for PSR and PLR. Both by closed form: 3 s hold a tenth of the sine's energy, and every
/// gating block that counts holds a quarter.
///
/// The edges are faded, because a hard edge has a true peak of its own; the tone is longer by
/// what the fades take.
#[test]
fn plr_and_psr_of_a_gated_tone() {
    for rate in RATES_HZ {
        let second = f64::from(rate);
        let fade = 0.0005 * second;
        // A raised cosine holds 3/8 of the energy of a full tone as long.
        let on = 0.1 * second + 2.0 * fade * (1.0 - 3.0 / 8.0);
        let samples: Vec<f32> = (0..rate)
            .map(|n| {
                let n = f64::from(n);
                let edge = (n.min(on - n) / fade).clamp(0.0, 1.0);
                let gain = 0.5 - 0.5 * (PI * edge).cos();
                (gain * (TAU * 997.0 * n / second).sin()) as f32
            })
            .collect();
        let mut rig = Rig::new(rate, 2);
        for _ in 0..20 {
            rig.play(&samples);
        }
        let got = rig.settled();
        let what = |name| format!("{name}, {rate} Hz");
        close(&what("PSR"), got.psr_db, 10.0, 0.05);
        close(&what("smallest PSR"), got.psr_min_db, 10.0, 0.05);
        close(&what("median PSR"), got.psr_median_db, 10.0, 0.05);
        close(&what("largest M"), got.momentary_max_lufs, -6.02, 0.05);
        close(&what("PLR"), got.plr_db, 6.02, 0.05);
    }
}

/// PSR is taken only where the programme is above the gate of the integrated loudness: a steady
/// tone 30 dB down, with the smallest PSR there is, leaves the minimum and the median alone once
/// the music has started.
#[test]
fn psr_leaves_a_quiet_introduction_out() {
    let mut rig = Rig::new(48_000, 2);
    rig.sine(997.0, -36.0, 30.0);
    let steady = rig.loudness();
    // A stereo sine at 997 Hz is as loud as its peak is high.
    close("PSR of the tone", steady.psr_median_db, 0.0, 0.05);
    for _ in 0..20 {
        rig.sine(997.0, 0.0, 0.1);
        rig.sine(997.0, -90.0, 0.9);
    }
    let got = rig.settled();
    close("median PSR", got.psr_median_db, 10.0, 0.3);
    assert!(got.psr_min_db > Some(9.5), "smallest PSR {:?}", got.psr_min_db);
}

/// Silence has no level: every reading says so, none is minus infinity.
#[test]
fn silence_has_no_reading() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        rig.silence(5.0);
        assert_eq!(rig.settled(), brunt_engine::Loudness::default());
        rig.sine(1_000.0, -20.0, 5.0);
        rig.silence(5.0);
        let got = rig.settled();
        assert_eq!((got.momentary_lufs, got.short_term_lufs, got.psr_db), (None, None, None));
        close("integrated loudness stays", got.integrated_lufs, -20.0, 0.3);
    }
}

//! ITU-R BS.1770-5: the weighting, by sines and noise.

use crate::rig::{RATES_HZ, Rig, close, k_gain_48k_db};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// "If a 0 dB FS, 997 Hz sine wave is applied to the left, centre, or right channel input, the
/// indicated loudness will equal -3.01 LKFS" (BS.1770-5, Annex 1). Tolerance 0.01 at 48 kHz, for
/// which the coefficients are given, and 0.05 at other rates.
#[test]
fn reference_sine_in_one_channel() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 1);
        rig.sine(997.0, 0.0, 10.0);
        let tolerance = if rate == 48_000 { 0.01 } else { 0.05 };
        close(
            &format!("997 Hz, mono, {rate} Hz"),
            rig.loudness().integrated_lufs,
            -3.01,
            tolerance,
        );
    }
}

/// Powers of channels add: the same sine in two channels reads 0.00 (BS.1770-5, Annex 1).
#[test]
fn reference_sine_in_two_channels() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        rig.sine(997.0, 0.0, 10.0);
        let tolerance = if rate == 48_000 { 0.01 } else { 0.05 };
        close(
            &format!("997 Hz, stereo, {rate} Hz"),
            rig.loudness().integrated_lufs,
            0.0,
            tolerance,
        );
    }
}

/// Gain of the weighting, dB, computed from the coefficients of BS.1770-5, tolerance 0.02 dB; at
/// rates other than 48 kHz 0.05 dB. A full-scale sine in one channel reads -0.691 - 3.010 + gain.
#[test]
fn gain_of_the_weighting() {
    let gains = [
        (31.5, -7.79),
        (63.0, -2.66),
        (100.0, -1.13),
        (500.0, 0.04),
        (997.0, 0.691),
        (2_000.0, 3.07),
        (10_000.0, 4.04),
    ];
    for (hz, gain_db) in gains {
        let recomputed = k_gain_48k_db(hz);
        assert!((recomputed - gain_db).abs() < 0.006, "{hz} Hz: the table gives {recomputed:.4}");
        for rate in RATES_HZ {
            let mut rig = Rig::new(rate, 1);
            rig.sine(hz, 0.0, 5.0);
            let got = rig.loudness().short_term_lufs.map(|lufs| lufs + 0.691 + 3.0103);
            let tolerance = if rate == 48_000 { 0.02 } else { 0.05 };
            close(&format!("K gain at {hz} Hz, rate {rate} Hz"), got, gain_db, tolerance);
        }
    }
}

/// Pink noise from 20 Hz to 20 kHz, 0 dB RMS a channel, the same in both channels: +3.75 LUFS,
/// tolerance 0.1, computed from the coefficients of BS.1770-5. The noise is a sum of sines of
/// equal power at equal ratios, which is pink by construction.
#[test]
fn pink_noise() {
    const LINES: usize = 400;
    let hz = |line: usize| 20.0 * 1_000_f64.powf((line as f64 + 0.5) / LINES as f64);
    let weighted: f64 = (0..LINES).map(|l| 10_f64.powf(k_gain_48k_db(hz(l)) / 10.0)).sum();
    let recomputed = -0.691 + 10.0 * (2.0 * weighted / LINES as f64).log10();
    assert!((recomputed - 3.75).abs() < 0.01, "recomputed {recomputed:.3}");

    for rate in RATES_HZ {
        let mut random = Pcg64::seed_from_u64(1770);
        let frames = rate as usize * 12;
        let mut noise = vec![0.0_f64; frames];
        let amplitude = (2.0 / LINES as f64).sqrt();
        for line in 0..LINES {
            let phase = random.random_range(0.0..TAU);
            let step = TAU * hz(line) / f64::from(rate);
            // x[n+1] = 2 cos(step) x[n] - x[n-1]: one product a sample.
            let (mut last, mut now) = (amplitude * (phase - step).sin(), amplitude * phase.sin());
            let turn = 2.0 * step.cos();
            for sample in &mut noise {
                *sample += now;
                (last, now) = (now, turn * now - last);
            }
        }
        let noise: Vec<f32> = noise.into_iter().map(|x| x as f32).collect();
        let mut rig = Rig::new(rate, 2);
        rig.play(&noise);
        close(&format!("pink noise, {rate} Hz"), rig.settled().integrated_lufs, 3.75, 0.1);
    }
}

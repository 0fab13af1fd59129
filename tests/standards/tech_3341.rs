//! EBU Tech 3341: the minimum requirements test signals 1-5 and 9-14. Stereo sines of 1 kHz, levels
//! dBFS peak in each channel, tolerance 0.1 LU. (15-19 stand in `true_peak.rs`.)

use crate::rig::{RATES_HZ, Rig, close};

const TOLERANCE_LU: f64 = 0.1;

/// Plays steps of (dBFS, s) at each rate, and gives each rate's rig.
fn play(steps: &[(f64, f64)]) -> impl Iterator<Item = (u32, Rig)> {
    RATES_HZ.into_iter().map(move |rate| {
        let mut rig = Rig::new(rate, 2);
        for &(dbfs, seconds) in steps {
            rig.sine(1_000.0, dbfs, seconds);
        }
        (rate, rig)
    })
}

fn integrated(case: u32, steps: &[(f64, f64)], lufs: f64) {
    for (rate, mut rig) in play(steps) {
        let what = format!("case {case}, {rate} Hz, I");
        close(&what, rig.settled().integrated_lufs, lufs, TOLERANCE_LU);
    }
}

fn steady(case: u32, lufs: f64) {
    for (rate, rig) in play(&[(lufs, 20.0)]) {
        let got = rig.loudness();
        let what = |window| format!("case {case}, {rate} Hz, {window}");
        close(&what("M"), got.momentary_lufs, lufs, TOLERANCE_LU);
        close(&what("S"), got.short_term_lufs, lufs, TOLERANCE_LU);
        close(&what("I"), got.integrated_lufs, lufs, TOLERANCE_LU);
    }
}

#[test]
fn case_1() {
    steady(1, -23.0);
}

#[test]
fn case_2() {
    steady(2, -33.0);
}

#[test]
fn case_3() {
    integrated(3, &[(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0);
}

#[test]
fn case_4() {
    let steps = [(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)];
    integrated(4, &steps, -23.0);
}

#[test]
fn case_5() {
    integrated(5, &[(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -23.0);
}

/// Short-term loudness stays at -23 once 3 s have passed: read every 10 ms.
#[test]
fn case_9() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        let mut read = 0;
        for _ in 0..5 {
            for (dbfs, seconds) in [(-20.0, 1.34), (-30.0, 1.66)] {
                rig.watched_sine(1_000.0, dbfs, seconds, |time_s, got| {
                    if time_s > 3.01 {
                        let what = format!("case 9, {rate} Hz, S at {time_s:.2} s");
                        close(&what, got.short_term_lufs, -23.0, TOLERANCE_LU);
                        read += 1;
                    }
                });
            }
        }
        assert!(read > 1_000, "case 9 was read {read} times only");
    }
}

/// Twenty files: the place of a 3 s burst against the meter's own steps does not matter.
#[test]
fn case_10() {
    for rate in RATES_HZ {
        for i in 0..20 {
            let mut rig = Rig::new(rate, 2);
            rig.silence(f64::from(i) * 0.15);
            rig.sine(1_000.0, -23.0, 3.0);
            rig.silence(1.0);
            let what = format!("case 10, file {i}, {rate} Hz, largest S");
            close(&what, rig.loudness().short_term_max_lufs, -23.0, TOLERANCE_LU);
        }
    }
}

/// One file of twenty bursts of 3 s, each 1 dB up.
#[test]
fn case_11() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        for i in 0..20 {
            let level = -38.0 + f64::from(i);
            rig.silence(f64::from(i) * 0.15);
            rig.sine(1_000.0, level, 3.0);
            rig.silence(3.0 - f64::from(i) * 0.15);
            let what = format!("case 11, burst {i}, {rate} Hz, largest S");
            close(&what, rig.loudness().short_term_max_lufs, level, TOLERANCE_LU);
        }
    }
}

/// Momentary loudness stays at -23 once 1 s has passed: read every 10 ms.
#[test]
fn case_12() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        let mut read = 0;
        for _ in 0..25 {
            for (dbfs, seconds) in [(-20.0, 0.18), (-30.0, 0.22)] {
                rig.watched_sine(1_000.0, dbfs, seconds, |time_s, got| {
                    if time_s > 1.0 {
                        let what = format!("case 12, {rate} Hz, M at {time_s:.2} s");
                        close(&what, got.momentary_lufs, -23.0, TOLERANCE_LU);
                        read += 1;
                    }
                });
            }
        }
        assert!(read > 850, "case 12 was read {read} times only");
    }
}

/// Twenty files, as case 10, of 400 ms bursts. A meter that steps by 100 ms fails 16 of them.
#[test]
fn case_13() {
    for rate in RATES_HZ {
        for i in 0..20 {
            let mut rig = Rig::new(rate, 2);
            rig.silence(f64::from(i) * 0.02);
            rig.sine(1_000.0, -23.0, 0.4);
            rig.silence(1.0);
            let what = format!("case 13, file {i}, {rate} Hz, largest M");
            close(&what, rig.loudness().momentary_max_lufs, -23.0, TOLERANCE_LU);
        }
    }
}

/// One file of twenty bursts of 400 ms, each 1 dB up.
#[test]
fn case_14() {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        for i in 0..20 {
            let level = -38.0 + f64::from(i);
            rig.silence(f64::from(i) * 0.02);
            rig.sine(1_000.0, level, 0.4);
            rig.silence(0.4 - f64::from(i) * 0.02);
            let got = rig.loudness().momentary_max_lufs;
            close(&format!("case 14, burst {i}, {rate} Hz"), got, level, TOLERANCE_LU);
        }
    }
}

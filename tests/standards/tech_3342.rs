//! EBU Tech 3342: the minimum requirements test signals 1-4. Stereo sines of 1 kHz, 20 s a step,
//! levels dBFS peak in each channel, tolerance 1 LU. (5 and 6 need the EBU's own recordings.)

use crate::rig::{RATES_HZ, Rig, close};

fn range(case: u32, steps_dbfs: &[f64], lu: f64) {
    for rate in RATES_HZ {
        let mut rig = Rig::new(rate, 2);
        for &dbfs in steps_dbfs {
            rig.sine(1_000.0, dbfs, 20.0);
        }
        close(&format!("case {case}, {rate} Hz, LRA"), rig.settled().range_lu, lu, 1.0);
    }
}

#[test]
fn case_1() {
    range(1, &[-20.0, -30.0], 10.0);
}

#[test]
fn case_2() {
    range(2, &[-20.0, -15.0], 5.0);
}

#[test]
fn case_3() {
    range(3, &[-40.0, -20.0], 20.0);
}

#[test]
fn case_4() {
    range(4, &[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0);
}

//! The difference: what is left when the mix is taken from the matched side-chain.

use brunt::audition::{Heard, Wish};

use crate::rig::{RATE_HZ, Rig, cut, limited, song, wish};

const SECOND: usize = 48_000;

fn rms_db(channels: &[Vec<f32>]) -> f64 {
    let sum: f64 = channels.iter().flatten().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (sum / (channels.len() * channels[0].len()) as f64).log10()
}

/// Plays the passage twice, the second time with the difference, and gives how far that lies
/// under the mix, dB.
fn residue_db(mix: &[Vec<f32>], side: &[Vec<f32>], after: f64) -> f64 {
    let mut rig = Rig::new(441);
    let wish = |heard| Wish { heard, mix_after_side: Some(after) };
    rig.play(mix, side, Some(0), wish(Heard::Mix));
    let out = rig.play(mix, side, Some(0), wish(Heard::Difference));
    // Past the switch and whatever came in before both had begun.
    rms_db(&cut(&out, SECOND, out[0].len())) - rms_db(mix)
}

#[test]
fn two_levels_of_one_mix_leave_nothing() {
    let mix = limited(&song(8.0, 40), -12.0, 1.0);
    for gain in [-9.0, 0.0, 7.0] {
        let side = limited(&mix, gain, 10.0);
        let left = residue_db(&mix, &side, 0.0);
        println!("{gain} dB apart: {left:.1} dB");
        assert!(left < -60.0, "{left}");
    }
}

#[test]
fn a_delay_either_way_is_evened_out() {
    let whole = limited(&song(8.0, 41), -12.0, 1.0);
    let end = whole[0].len();
    for late in [1_usize, 100, 24_000] {
        let ahead = cut(&whole, late, end);
        let behind = cut(&whole, 0, end - late);
        // `behind` is what `ahead` was `late` frames ago.
        let mix_late = residue_db(&behind, &ahead, late as f64);
        let side_late = residue_db(&ahead, &behind, -(late as f64));
        println!("{late} frames: {mix_late:.1} and {side_late:.1} dB");
        assert!(mix_late < -60.0 && side_late < -60.0, "{late}: {mix_late}, {side_late}");
    }
}

#[test]
fn a_fraction_of_a_frame_is_evened_out() {
    // Closed form: sums of sines, sampled later by that fraction. Up to 10 kHz.
    let tones = [97.0, 431.0, 1_013.0, 3_301.0, 7_013.0, 10_007.0];
    let make = |late: f64| -> Vec<Vec<f32>> {
        let channel: Vec<f32> = (0..8 * SECOND)
            .map(|n| {
                let t = (n as f64 - late) / RATE_HZ;
                tones.iter().map(|hz| 0.05 * (std::f64::consts::TAU * hz * t).sin()).sum::<f64>()
                    as f32
            })
            .collect();
        vec![channel.clone(), channel]
    };
    for late in [0.25, 0.5, 3.75, -0.4, -12.5] {
        let left = residue_db(&make(late), &make(0.0), late);
        println!("{late} frames: {left:.1} dB");
        assert!(left < -60.0, "{late}: {left}");
        let alone = residue_db(&make(late), &make(0.0), late.round());
        assert!(alone > left + 20.0, "the control, whole frames only: {alone}");
    }
}

#[test]
fn what_a_clipper_took_is_what_is_heard() {
    // The closed form: matched side-chain less mix, sample by sample, the guard's delay apart.
    let before = limited(&song(10.0, 42), -20.0, 1.0);
    let mix = limited(&before, 3.0, 0.05);
    let mut rig = Rig::new(441);
    rig.play(&mix, &before, Some(0), wish(Heard::Mix));
    let out = rig.play(&mix, &before, Some(0), wish(Heard::Difference));
    let gain = 10_f64.powf(rig.status().gain_db.expect("matched") / 20.0);
    let delay = (RATE_HZ / 1e3) as usize + 10;
    let worst = (2_000..mix[0].len() - delay)
        .map(|n| {
            let want = gain * f64::from(before[0][n]) - f64::from(mix[0][n]);
            (f64::from(out[0][n + delay]) - want).abs()
        })
        .fold(0.0, f64::max);
    // The gain may have moved by its slack of 0.05 dB meanwhile.
    assert!(worst < 0.05 * 0.006, "{worst}");
}

//! The match: side-chain and mix, each measured over the same passage by the `ebur128` crate
//! (ITU-R BS.1770), to 0.1 LU (the bar of the design).

use brunt::audition::Heard;

use crate::rig::{Rig, cut, integrated, limited, song, wish};

const SECOND: usize = 48_000;
/// LU.
const BAR: f64 = 0.1;

fn check(mix: &[Vec<f32>], side: &[Vec<f32>], what: &str) {
    let mut rig = Rig::new(441);
    // Heard once with the mix, then again with the side-chain, as in a loop.
    rig.play(mix, side, Some(0), wish(Heard::Mix));
    let out = rig.play(mix, side, Some(0), wish(Heard::Side));
    // Without the switch and its 20 ms.
    let from = SECOND / 50;
    let (heard, aimed) = (integrated(&cut(&out, from, out[0].len())), integrated(mix));
    let error = heard - aimed;
    println!("{what}: {heard:.2} LUFS for {aimed:.2}, error {error:+.3} LU");
    assert!(error.abs() <= BAR, "{what}: {heard:.3} LUFS for {aimed:.3}");
    assert!(rig.status().found.is_some_and(|found| found.sure));
}

#[test]
fn the_unlimited_version_is_as_loud_as_the_limited_one() {
    // Quiet enough that the guard has nothing to do: its work is not the match's.
    for (seed, drive) in [(1, 0.0), (2, 4.0), (3, 8.0)] {
        let before = limited(&song(14.3, seed), -20.0, 1.0);
        let mix = limited(&before, drive, 0.05);
        check(&mix, &before, &format!("drive {drive} dB"));
    }
}

#[test]
fn another_song_is_as_loud() {
    for seed in 10..14 {
        let mix = limited(&song(20.0, seed), -18.0, 1.0);
        let other = limited(&song(20.0, seed + 50), -24.0, 1.0);
        check(&mix, &other, &format!("songs {seed}"));
    }
}

#[test]
fn a_loop_that_ends_between_two_steps_counts_each_place_once() {
    // A loop of 7.77 s, three times round, its last third 12 dB up: were the places counted as
    // often as they were played, nothing would change; so the mix changes between the rounds.
    let loud = |k: usize| if k > 5 * SECOND { 4.0 } else { 1.0 };
    let before = limited(&song(7.77, 5), -26.0, 1.0);
    let shaped: Vec<Vec<f32>> =
        before.iter().map(|c| c.iter().enumerate().map(|(k, x)| x * loud(k)).collect()).collect();
    let mut rig = Rig::new(512);
    rig.play(&limited(&before, 9.0, 1.0), &before, Some(1_000_003), wish(Heard::Mix));
    for _ in 0..2 {
        rig.play(&shaped, &before, Some(1_000_003), wish(Heard::Mix));
    }
    let out = rig.play(&shaped, &before, Some(1_000_003), wish(Heard::Side));
    let from = SECOND / 50;
    let error = integrated(&cut(&out, from, out[0].len())) - integrated(&shaped);
    println!("loop: error {error:+.3} LU");
    assert!(error.abs() <= BAR, "{error}");
}

#[test]
fn a_jump_to_another_place_starts_a_new_passage() {
    let quiet = limited(&song(10.0, 6), -26.0, 1.0);
    let mut rig = Rig::new(480);
    // Here the mix is 10 dB louder; there, 4 dB quieter.
    rig.play(&limited(&quiet, 10.0, 1.0), &quiet, Some(0), wish(Heard::Mix));
    let gain = |rig: &Rig| rig.status().gain_db.expect("matched");
    assert!((gain(&rig) - 10.0).abs() < 0.05, "{}", gain(&rig));
    rig.play(&limited(&quiet, -4.0, 1.0), &quiet, Some(90_000_000), wish(Heard::Mix));
    assert!((gain(&rig) + 4.0).abs() < 0.05, "{}", gain(&rig));
}

#[test]
fn without_a_transport_the_stream_itself_is_the_passage() {
    let quiet = limited(&song(10.0, 7), -26.0, 1.0);
    let mut rig = Rig::new(100);
    rig.play(&limited(&quiet, 3.0, 1.0), &quiet, None, wish(Heard::Mix));
    let gain = rig.status().gain_db.expect("matched");
    assert!((gain - 3.0).abs() < 0.05, "{gain}");
}

#[test]
fn the_gain_stays_within_12_db_and_says_so() {
    let quiet = limited(&song(10.0, 8), -30.0, 1.0);
    for (step, want) in [(20.0, 12.0), (-20.0, -12.0)] {
        let mut rig = Rig::new(480);
        rig.play(&limited(&quiet, step, 10.0), &quiet, Some(0), wish(Heard::Side));
        let status = rig.status();
        let gain = status.gain_db.expect("matched");
        assert!((gain - want).abs() < 0.1, "{gain} for {want}");
        assert!((status.out_of_reach_lu - 8.0).abs() < 0.1, "{}", status.out_of_reach_lu);
    }
}

#[test]
fn a_quieter_side_chain_is_not_turned_up_before_three_seconds() {
    let quiet = limited(&song(5.0, 9), -30.0, 1.0);
    let mix = limited(&quiet, 6.0, 1.0);
    let mut rig = Rig::new(480);
    let two = |c: &[Vec<f32>]| cut(c, 0, 2 * SECOND);
    rig.play(&two(&mix), &two(&quiet), Some(0), wish(Heard::Mix));
    assert!(rig.status().gain_db.expect("heard") <= 0.0);
    let rest = |c: &[Vec<f32>]| cut(c, 2 * SECOND, c[0].len());
    rig.play(&rest(&mix), &rest(&quiet), Some(2 * SECOND as i64), wish(Heard::Mix));
    assert!((rig.status().gain_db.expect("matched") - 6.0).abs() < 0.05);
}

#[test]
fn silence_on_either_bus_does_not_count() {
    let before = limited(&song(12.0, 11), -26.0, 1.0);
    let mut mix = limited(&before, 5.0, 1.0);
    let mut side = before.clone();
    for channel in &mut side {
        channel[..3 * SECOND].fill(0.0);
    }
    for channel in &mut mix {
        channel[9 * SECOND..].fill(0.0);
    }
    let mut rig = Rig::new(480);
    rig.play(&mix, &side, Some(0), wish(Heard::Mix));
    let gain = rig.status().gain_db.expect("matched");
    assert!((gain - 5.0).abs() < 0.1, "{gain}");
    let mut silent = Rig::new(480);
    silent.play(&mix, &limited(&side, -400.0, 1.0), Some(0), wish(Heard::Side));
    assert_eq!(silent.status().gain_db, None, "unknown, not zero");
}

/// A side-chain 20 dB under the mix, turned up by the most there is, makes way for one 6 dB over it: that starts no
/// louder than it is, and is at the mix's loudness seconds later, not when a minute has gone.
#[test]
fn another_side_chain_is_matched_by_itself() {
    let mix = limited(&song(15.0, 21), -24.0, 1.0);
    let [soft, loud] = [-20.0, 6.0].map(|gain_db| limited(&mix, gain_db, 1.0));
    let mut rig = Rig::new(480);
    rig.play(&mix, &soft, None, wish(Heard::Side));
    assert!(rig.status().gain_db.is_some_and(|gain| gain > 11.9), "{:?}", rig.status());
    rig.audition.replace_side();
    assert_eq!(rig.status().gain_db, None);
    let out = rig.play(&mix, &loud, None, wish(Heard::Side));
    let peak =
        |channels: &[Vec<f32>]| channels.iter().flatten().fold(0.0f32, |m, x| m.max(x.abs()));
    assert!(peak(&out) <= peak(&loud) * 1.001, "{} over {}", peak(&out), peak(&loud));
    let last = |channels: &[Vec<f32>]| integrated(&cut(channels, 10 * SECOND, 15 * SECOND));
    assert!((last(&out) - last(&mix)).abs() <= BAR, "{} for {}", last(&out), last(&mix));
}

//! Rank order of six gains of one riff, loudness and level apart.

use brunt_engine::Thresholds;
use brunt_engine::parts::drive::{Saturation, beyond_need, compare, level_spread_db};
use brunt_lab::arrange::gains::{GAINS_DB, RIFFS, SOUNDS, riff};
use brunt_lab::arrange::track;
use brunt_lab::corpus::mix::Library;

/// Bar: every riff in order.
#[test]
fn six_gains_of_any_riff_are_ranked() {
    let mut library = Library::default();
    for (n, &(name, row)) in RIFFS.iter().enumerate() {
        let (sound_name, sound) = &SOUNDS[n % SOUNDS.len()];
        let tempo = [96.0, 134.0, 172.0][n / 2 % 3];
        let takes = GAINS_DB.map(|gain_db| {
            let session = riff(row, sound, tempo, 31 + n as u64, gain_db, &mut library);
            track(&session.expect("the packages of the corpus").stems[0]).expect("48 kHz")
        });
        let spreads = takes.each_ref().map(|take| level_spread_db(take).expect("four bars"));
        assert!(
            spreads.windows(2).all(|pair| pair[0] > pair[1]),
            "{name}, {sound_name}, {tempo}: {spreads:?}"
        );
        // Take against take, two steps apart: the one with less gain has more attack.
        for (less, more) in [(0, 2), (2, 4), (3, 5)] {
            let takes = compare(&takes[less], &takes[more]).expect("four bars");
            assert!(takes.more_attack_db > 0.0, "{name}: {less} against {more}: {takes:?}");
        }
    }
}

/// Bars: of ringing, muted and other riffs the highest gain is told and the lowest is clear in nine of
/// ten, and each riff at 0, 12 and 30 dB is in order, by the share before it is limited: two takes that
/// lost nothing both read 0 dB. None of these strings, sounds and amplifiers was in the fit.
#[test]
fn the_highest_gain_is_told_and_the_lowest_is_clear() {
    let mut library = Library::default();
    let (mut right, mut ordered) = (0, 0);
    for (n, &(name, row)) in RIFFS.iter().enumerate() {
        let (sound_name, sound) = &SOUNDS[n % SOUNDS.len()];
        let tempo = [96.0, 134.0, 172.0][n / 2 % 3];
        let takes = [0.0, 12.0, 30.0].map(|gain_db| {
            let session = riff(row, sound, tempo, 31 + n as u64, gain_db, &mut library);
            let track = track(&session.expect("the packages of the corpus").stems[0]);
            Saturation::read(&track.expect("48 kHz")).expect("four bars")
        });
        let lost = takes.map(|take| take.attack_lost());
        let loses = lost.map(|lost| beyond_need(lost).db >= Thresholds::default().watch_db);
        let (lost_db, shares) = (lost.map(|lost| lost.db), takes.map(|take| take.unlimited));
        println!("{name}, {sound_name}: {lost_db:.2?} dB, shares {shares:.2?}");
        right += usize::from(loses[2] && !loses[0]);
        ordered += usize::from(shares.windows(2).all(|pair| pair[0] > pair[1]));
    }
    let all = RIFFS.len();
    assert!(right * 10 >= all * 9, "{right} of {all}");
    assert_eq!(ordered, all, "in order");
}

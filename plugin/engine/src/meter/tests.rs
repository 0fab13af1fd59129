//! The side-chain as users change it while the music plays.

use super::*;
use crate::noise::noise;

const RATE_HZ: f64 = 48_000.0;

/// Four hits a second over a bed 20 dB under them, `seconds` of it.
fn music(seconds: usize) -> Vec<f32> {
    let frames = seconds * RATE_HZ as usize;
    let (mut all, hits) = (noise(frames, 1), noise(frames, 2));
    for (k, (x, hit)) in all.iter_mut().zip(hits).enumerate() {
        let since = (k % 12_000) as f32 / 48.0;
        *x = 0.02 * *x + 0.5 * hit * (-since / 40.0).exp();
    }
    all
}

fn run(meter: &mut Meter, main: &[f32], side: Option<&[f32]>) {
    for at in (0..main.len()).step_by(480) {
        let to = (at + 480).min(main.len());
        let block = side.map(|side| [&side[at..to]; 2]);
        meter.process(&[&main[at..to]; 2], block.as_ref().map(|block| &block[..]), &mut ());
    }
}

fn meter() -> Meter {
    Meter::new(Config { sample_rate_hz: RATE_HZ, channels: 2 }).expect("a good rate")
}

/// A side-chain that is given a role late is compared as if it had had it from the start: 6.02 dB under the main,
/// and 100 frames ahead of it.
#[test]
fn a_side_chain_that_comes_late_is_compared() {
    let main = music(20);
    let half: Vec<f32> = main[100..].iter().chain(&main[..100]).map(|x| x / 2.0).collect();
    let mut meter = meter();
    run(&mut meter, &main[..240_000], None);
    for role in [SideRole::Before, SideRole::Reference, SideRole::Before] {
        meter.set_side_role(role);
        run(&mut meter, &main[..480_000], Some(&half[..480_000]));
        let compare = meter.readings().compare.expect("there is a side-chain");
        assert_eq!(compare.role, role);
        let gain_db = compare.gain_db.unwrap_or_else(|| panic!("{role:?}: {compare:?}"));
        assert!((gain_db - 6.0206).abs() < 0.05, "{role:?}: {compare:?}");
        assert!(compare.passage_s > 5.0, "{role:?}: {compare:?}");
        if role == SideRole::Before {
            assert!(compare.hits > 20, "{role:?}: {compare:?}");
        }
    }
}

/// After a first reference that is as loud as the main, a second one 12.04 dB under it reads as if it had been there
/// alone.
#[test]
fn another_reference_starts_anew() {
    let main = music(20);
    let quarter: Vec<f32> = main.iter().map(|x| x / 4.0).collect();
    let (mut alone, mut second) = (meter(), meter());
    alone.set_side_role(SideRole::Reference);
    second.set_side_role(SideRole::Reference);
    run(&mut second, &main[..480_000], Some(&main[..480_000]));
    second.restart_side();
    for meter in [&mut alone, &mut second] {
        run(meter, &main[480_000..], Some(&quarter[480_000..]));
    }
    let [alone, second] = [&alone, &second].map(|meter| *meter.readings());
    let lufs = |readings: &Readings| readings.side.integrated_lufs.expect("loud");
    assert!((lufs(&alone) - lufs(&second)).abs() < 1e-9);
    let [of_alone, of_second] = [alone, second].map(|r| r.compare.expect("compared"));
    let difference = |compare: &crate::Compare| compare.loudness_difference_lu.expect("compared");
    assert!((difference(&of_second) - 12.0412).abs() < 0.01, "{of_second:?}");
    assert!((difference(&of_alone) - difference(&of_second)).abs() < 0.01);
    assert_eq!(of_alone.passage_s, of_second.passage_s);
}

/// A mix before the limiter that covers 8 of 20 s, and half as loud: what it does not cover is compared with
/// nothing, and all hits are given out in their order.
#[test]
fn what_a_side_chain_does_not_cover_is_not_compared() {
    let mut main = music(20);
    // What it does not cover is 12 dB softer.
    for x in main[..288_000].iter_mut() {
        *x /= 4.0;
    }
    let half: Vec<f32> = main.iter().map(|x| x / 2.0).collect();
    let mut meter = meter();
    meter.set_side_role(SideRole::Before);
    let mut hits: Vec<Hit> = Vec::new();
    for (at, block) in main.chunks(480).enumerate() {
        let at = at * 480;
        let covered = (288_000..672_000).contains(&at);
        let side = [&half[at..at + 480]; 2];
        meter.process(&[block; 2], covered.then_some(&side), &mut hits);
    }
    meter.finish(&mut hits);
    let compare = meter.readings().compare.expect("compared");
    let difference = compare.loudness_difference_lu.expect("loud");
    assert!((difference - 6.0206).abs() < 0.05, "{compare:?}");
    assert!(compare.lost_db_median.is_some_and(|lost| lost.abs() < 0.05), "{compare:?}");
    assert!((6.0..8.1).contains(&compare.passage_s), "{compare:?}");
    assert_eq!(hits.len() as u64, meter.readings().punch.hits);
    assert!(hits.is_sorted_by(|a, b| a.time_s < b.time_s));
    let compared = hits.iter().filter(|hit| hit.before_peak_dbtp.is_some());
    assert_eq!(compared.clone().count() as u64, compare.hits);
    for hit in compared {
        assert!((6.0..14.1).contains(&hit.time_s), "{hit:?}");
    }
}

/// One channel is limited as two alike are, and reads as they do: only its loudness lies 3.01 LU lower (ITU-R BS.1770).
#[test]
fn one_channel_reads_as_two_alike() {
    let clipped: Vec<f32> = music(20).iter().map(|x| (3.0 * x).clamp(-0.7, 0.7)).collect();
    let mut one = Meter::new(Config { channels: 1, sample_rate_hz: RATE_HZ }).expect("a good rate");
    let mut two = meter();
    for block in clipped.chunks(480) {
        one.process(&[block], None, &mut ());
        two.process(&[block; 2], None, &mut ());
    }
    let [one, two] = [&mut one, &mut two].map(|meter| {
        meter.finish(&mut ());
        *meter.readings()
    });
    let under = |a: Option<f64>, b: Option<f64>| a.expect("known") - b.expect("known");
    let lufs = under(one.loudness.integrated_lufs, two.loudness.integrated_lufs);
    assert!((lufs + 3.0103).abs() < 0.01, "{lufs}");
    let [of_one, of_two] = [one, two].map(|readings| readings.leaks.ceiling);
    assert_eq!((of_one.state, of_one.kind), (of_two.state, of_two.kind));
    for (a, b) in [
        (of_one.implied_reduction_db, of_two.implied_reduction_db),
        (of_one.implied_reduction_p90_db, of_two.implied_reduction_p90_db),
        (of_one.unlike, of_two.unlike),
    ] {
        // Trees step: what differs in the last digit may fall on another side.
        assert!(under(a, b).abs() < 0.1, "{of_one:?} {of_two:?}");
    }
}

/// 12 dB of drive into a ceiling, or another: what the main is made from `before`.
fn limited(before: &[f32], drive_db: f32) -> Vec<f32> {
    let drive = 10f32.powf(drive_db / 20.0);
    let mut gain = 1.0f32;
    before
        .iter()
        .map(|x| {
            let driven = x * drive;
            // At once down, and back within some 60 ms.
            gain = (gain + (1.0 - gain) / 480.0).min(0.5 / driven.abs().max(0.5));
            driven * gain
        })
        .collect()
}

/// The drive of the limiter goes from 12 dB to 6 and back while the music plays: each hit is read by the gain that it
/// was played with, and the last ones by the present gain.
#[test]
fn a_drive_that_changes_is_followed() {
    let before = music(60);
    let part = 20 * 48_000;
    let drives = [12.0, 6.0, 12.0];
    let parts = before.chunks(part).zip(drives);
    let main: Vec<f32> = parts.clone().flat_map(|(part, drive)| limited(part, drive)).collect();
    // What each drive reads by itself.
    let alone = [12.0, 6.0].map(|drive| {
        let mut meter = meter();
        meter.set_side_role(SideRole::Before);
        run(&mut meter, &limited(&before[..part], drive), Some(&before[..part]));
        let compare = meter.readings().compare.expect("compared");
        assert!((compare.gain_db.expect("a gain") - f64::from(drive)).abs() < 0.05, "{compare:?}");
        compare.reduction_db_median.expect("hits")
    });
    assert!(alone[0] > alone[1] + 2.0, "{alone:?}");
    let mut meter = meter();
    meter.set_side_role(SideRole::Before);
    for (k, drive) in drives.into_iter().enumerate() {
        let (from, to) = (k * part, (k + 1) * part);
        run(&mut meter, &main[from..to], Some(&before[from..to]));
        let readings = meter.readings();
        let compare = readings.compare.expect("compared");
        assert!((compare.gain_db.expect("a gain") - drive as f64).abs() < 0.05, "{k}: {compare:?}");
        let last = readings.ceiling_recent.implied_reduction_db.expect("measured");
        assert!((last - alone[k % 2]).abs() < 0.5, "{k}: {last} of {alone:?}");
    }
    // Over the whole pass a third of the hits has the lower reduction.
    let most = meter.readings().compare.expect("compared");
    let median = most.reduction_db_median.expect("hits");
    assert!((median - alone[0]).abs() < 1.0, "{median} of {alone:?}");
}

/// The main comes 100 ms later from one moment on: what was compared before and between does not blur what is
/// compared now.
#[test]
fn a_delay_that_changes_starts_anew() {
    let before = music(40);
    let mut main = limited(&before, 9.0);
    let shift = 4_800;
    let at = 20 * 48_000;
    let late: Vec<f32> = main[at - shift..main.len() - shift].to_vec();
    main.truncate(at);
    main.extend(late);
    let mut meter = meter();
    meter.set_side_role(SideRole::Before);
    run(&mut meter, &main, Some(&before));
    let compare = meter.readings().compare.expect("compared");
    assert!((compare.alignment.delay_frames.expect("found") - 4_800.0).abs() < 0.5, "{compare:?}");
    assert!((compare.gain_db.expect("a gain") - 9.0).abs() < 0.1, "{compare:?}");
    assert!(compare.hits > 20 && compare.hits < 80, "{compare:?}");
}

/// Half a minute in which the host sends silence for the mix before the limiter is compared with nothing.
#[test]
fn a_silent_side_chain_is_not_compared() {
    let main = music(40);
    let mut half: Vec<f32> = main.iter().map(|x| x / 2.0).collect();
    half[720_000..].fill(0.0);
    let mut meter = meter();
    meter.set_side_role(SideRole::Before);
    run(&mut meter, &main, Some(&half));
    let compare = meter.readings().compare.expect("compared");
    assert!(compare.lost_db_median.is_some_and(|lost| lost.abs() < 0.1), "{compare:?}");
    assert!((40..=60).contains(&compare.hits), "{compare:?}");
}

/// A minute of silence in the middle changes nothing of what the hits around it say.
#[test]
fn a_pause_says_nothing_of_a_ceiling() {
    let song = limited(&music(24), 12.0);
    let (first, second) = song.split_at(12 * 48_000);
    let read = |pause_s: usize| {
        let mut meter = meter();
        run(&mut meter, first, None);
        run(&mut meter, &vec![0.0; pause_s * 48_000], None);
        run(&mut meter, second, None);
        meter.finish(&mut ());
        meter.readings().leaks.ceiling.implied_reduction_db.expect("enough hits")
    };
    let (short, long) = (read(2), read(62));
    assert!((short - long).abs() < 0.1, "{short} {long}");
}

/// Hits 50 ms apart, of which all after the first ten seconds are limited: they are read while they come.
#[test]
fn hits_that_come_fast_are_read() {
    let frames = 40 * 48_000;
    let hits = noise(frames, 3);
    let bed = noise(frames, 4);
    let song: Vec<f32> = (0..frames)
        .map(|k| 0.01 * bed[k] + 0.5 * hits[k] * (-((k % 2_400) as f32) / 480.0).exp())
        .collect();
    let (clean, rest) = song.split_at(10 * 48_000);
    let mut meter = meter();
    run(&mut meter, clean, None);
    run(&mut meter, &limited(rest, 15.0), None);
    let readings = meter.readings();
    assert!(readings.punch.hits > 700, "{}", readings.punch.hits);
    let read = readings.ceiling_recent.hits_at_ceiling;
    let mut after = self::meter();
    run(&mut after, &limited(rest, 15.0), None);
    let want = after.readings().ceiling_recent.implied_reduction_db;
    let got = readings.ceiling_recent.implied_reduction_db;
    let apart = got.zip(want).map(|(got, want)| (got - want).abs());
    assert!(apart.is_some_and(|apart| apart < 1.0), "{got:?} {want:?} {read:?}");
}

/// After two minutes of silence the main comes 40 frames later: told within ten seconds, as without the silence.
#[test]
fn a_delay_that_changes_in_a_silence_is_found() {
    let before = music(30);
    let mut meter = meter();
    meter.set_side_role(SideRole::Before);
    run(&mut meter, &before[..720_000], Some(&before[..720_000]));
    let silence = vec![0.0; 120 * 48_000];
    run(&mut meter, &silence, Some(&silence));
    run(&mut meter, &before[719_960..1_199_960], Some(&before[720_000..1_200_000]));
    let compare = meter.readings().compare.expect("compared");
    let delay = compare.alignment.delay_frames.expect("found");
    assert!((delay - 40.0).abs() < 0.1, "{compare:?}");
}

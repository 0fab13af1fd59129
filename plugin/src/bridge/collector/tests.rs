use brunt_engine::{HistoryPoint, Hit, LeakKind, Need, Readings, Sink, State, Thresholds};
use brunt_report::report::MAX_POINTS;

use crate::bridge::Bridge;
use crate::bridge::feed::Feed;
use crate::bridge::wires::HISTORY;
use crate::display::{BarLine, Display, MAX_BARS, MAX_HITS};
use crate::model::place::PlaceMark;
use crate::params::Role;
use crate::song::SongClock;
use crate::state::SavedPass;

fn measured(frames: u64) -> Readings {
    Readings { frames, ..Readings::default() }
}

/// A pass of 99 frames at 48 kHz, as a session had saved it.
fn saved() -> Option<SavedPass> {
    let readings = Readings { time_s: 99.0 / 48_000.0, ..measured(99) };
    let display = Display { readings, sample_rate_hz: 48_000.0, ..Display::default() };
    SavedPass::of(&display, Thresholds { watch_db: 0.5, leaking_db: 3.0 })
}

fn feed<'a>(bridge: &'a Bridge, song: &'a SongClock, epoch: u64) -> Feed<'a> {
    Feed { bridge, song, epoch, audition: None, levels: None, hits: None }
}

#[test]
fn everything_pushed_is_shown_once() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    let epoch = bridge.next_epoch();
    feed(&bridge, &song, epoch).hit(&Hit { index: 7, ..Hit::default() });
    bridge.publish(epoch, &measured(10));
    let before = bridge.collect().generation;
    assert_eq!(bridge.collect().hits.len(), 1);
    assert_eq!(bridge.collect().hits[0].hit.index, 7);
    assert_eq!(bridge.collect().readings.frames, 10);
    assert_eq!(bridge.collect().generation, before, "nothing new, nothing to draw");
}

#[test]
fn nothing_from_before_a_reset_shows_after_it() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    let old = bridge.next_epoch();
    feed(&bridge, &song, old).hit(&Hit::default());
    bridge.publish(old, &measured(10));
    assert_eq!(bridge.collect().hits.len(), 1);
    bridge.request_reset();
    assert!(bridge.collect().hits.is_empty(), "cleared at once");
    // The audio thread has not seen the request yet.
    feed(&bridge, &song, old).hit(&Hit::default());
    bridge.publish(old, &measured(20));
    assert!(bridge.collect().hits.is_empty());
    assert_eq!(bridge.collect().readings.frames, 0);
    let new = bridge.next_epoch();
    feed(&bridge, &song, new).hit(&Hit::default());
    bridge.publish(new, &measured(5));
    assert_eq!(bridge.collect().hits.len(), 1);
    assert_eq!(bridge.collect().readings.frames, 5);
}

/// Of its own hits a part shows what a ceiling takes, and of the mix's leaks nothing.
#[test]
fn a_part_shows_no_leak_of_the_mix() {
    let bridge = Bridge::default();
    let mut readings = measured(10);
    readings.leaks.ceiling.state = State::Leaking;
    readings.leaks.mids.state = State::Leaking;
    let shown = |role| {
        bridge.links().set_role(role);
        let epoch = bridge.next_epoch();
        bridge.publish(epoch, &readings);
        let costs_db = [Some(1.0), None, None, None, Some(2.0)];
        let song = SongClock::default();
        for k in 1..10 {
            let time_s = f64::from(k) / 10.0;
            let point = HistoryPoint { time_s, costs_db, ..HistoryPoint::default() };
            feed(&bridge, &song, epoch).history(&point);
        }
        bridge.collect().readings.leaks
    };
    let lane = |kind| {
        let history = bridge.collect().fine.stretch(0.0, 1.0).expect("played");
        history.costs_db.get(kind).is_some_and(|lane| lane.iter().any(Option::is_some))
    };
    assert_eq!(shown(Role::Mix), readings.leaks);
    assert!(lane(LeakKind::Ceiling) && lane(LeakKind::Mids));
    let drums = shown(Role::Drums);
    assert_eq!(drums.ceiling, readings.leaks.ceiling);
    for kind in [LeakKind::Timing, LeakKind::Clutter, LeakKind::Drive, LeakKind::Mids] {
        assert_eq!(drums.get(kind).state, State::Unknown, "{kind:?}");
        assert_eq!(drums.get(kind).need, Need::Mix, "{kind:?}");
    }
    assert!(lane(LeakKind::Ceiling) && !lane(LeakKind::Mids));
    // On the mix bus again, without a block played.
    bridge.links().set_role(Role::Mix);
    assert_eq!(bridge.collect().readings.leaks, readings.leaks);
}

/// A report is called as the track is. What a listener gets is told of a mix, and of no part.
#[test]
fn a_report_says_what_it_is_of() {
    let bridge = Bridge::default();
    let mut readings = measured(10);
    readings.loudness.integrated_lufs = Some(-12.0);
    readings.loudness.true_peak_dbtp = Some(-1.0);
    (readings.punch.contrast_db, readings.punch.hits) = (Some(8.0), 1);
    let epoch = bridge.next_epoch();
    let hit = Hit { level_lufs: -6.0, true_peak_dbtp: -1.0, ..Hit::default() };
    feed(&bridge, &SongClock::default(), epoch).hit(&hit);
    bridge.publish(epoch, &readings);
    let report = |role, name| {
        bridge.links().set_role(role);
        bridge.links().set_track_name(name);
        let report = bridge.report().expect("measured");
        (report.mix.file, report.listener.len())
    };
    assert_eq!(report(Role::Mix, "Master"), ("Master".to_owned(), 3));
    assert_eq!(report(Role::Drums, "Kit bus"), ("Kit bus".to_owned(), 0));
    assert_eq!(report(Role::Drums, ""), ("drums".to_owned(), 0));
}

#[test]
fn a_full_queue_drops_its_oldest_and_counts_it() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    let epoch = bridge.next_epoch();
    for i in 0..HISTORY + 3 {
        let time_s = (i + 1) as f64 / 10.0;
        let point = HistoryPoint { time_s, contrast_db: Some(8.0), ..HistoryPoint::default() };
        feed(&bridge, &song, epoch).history(&point);
    }
    assert_eq!(bridge.collect().dropped, 3);
    let shown = bridge.collect().fine.stretch(0.0, 1.0).expect("a second");
    let first = shown.contrast_db.iter().position(Option::is_some);
    assert_eq!((shown.step_s, first), (0.2, Some(1)), "the first 0.3 s are gone");
    bridge.next_epoch();
    assert_eq!(bridge.collect().dropped, 0, "the count starts anew with the epoch");
}

/// Three hours, five hits and a beat of a bar a second, drained every ten seconds: what is held
/// after half of it is held to the end.
#[test]
fn three_hours_hold_no_more_than_half_of_them() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    let epoch = bridge.next_epoch();
    let mut held = Vec::new();
    for second in 0..3 * 3600 {
        let mut feed = feed(&bridge, &song, epoch);
        for k in 0..5 {
            feed.hit(&Hit { index: second * 5 + k, ..Hit::default() });
        }
        for tenth in 1..=10 {
            let time_s = second as f64 + tenth as f64 / 10.0;
            feed.history(&HistoryPoint { time_s, ..HistoryPoint::default() });
        }
        bridge.push_bar(epoch, BarLine { time_s: second as f64, number: second as i64 });
        if second % 10 == 9 {
            let display = bridge.collect();
            let room = (display.hits.capacity(), display.bars.capacity());
            held.push((room, display.hits.len(), display.bars.len()));
        }
    }
    assert_eq!(bridge.collect().dropped, 0);
    let (half, end) = (held[540].0, held[held.len() - 1]);
    assert_eq!(end, (half, MAX_HITS, MAX_BARS));
    // The room that histories take is checked where they are made.
    let fine = bridge.collect().fine.stretch(0.0, 10_800.0).expect("three hours");
    assert!(fine.len() <= MAX_POINTS + 1, "{} columns", fine.len());
}

/// What of a pass is loud enough to be more than hiss.
fn played(frames: u64) -> Readings {
    let mut readings = measured(frames);
    readings.loudness.sample_peak_dbfs = Some(-60.0);
    readings
}

/// A host that runs while nothing plays takes nothing away: no snapshot, no point of the history, no bar
/// and no place.
#[test]
fn a_saved_pass_stays_until_something_has_played() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    bridge.restore(saved());
    let epoch = bridge.next_epoch();
    let mut hiss = measured(48_000);
    for peak in [None, Some(-80.0)] {
        hiss.loudness.sample_peak_dbfs = peak;
        bridge.publish(epoch, &hiss);
        feed(&bridge, &song, epoch).history(&HistoryPoint { time_s: 0.1, ..Default::default() });
        bridge.push_bar(epoch, BarLine { time_s: 0.5, number: 1 });
        assert!(bridge.collect().from_saved_pass);
        assert_eq!(bridge.collect().readings.frames, 99);
        assert_eq!(bridge.pass(), saved());
    }
    let start = PlaceMark { time_s: 0.0, song_s: Some(12.0) };
    bridge.push_place(epoch, start);
    assert_eq!(bridge.collect().bars, []);
    bridge.publish(epoch, &played(1));
    assert!(!bridge.collect().from_saved_pass);
    assert_eq!(bridge.collect().readings.frames, 1);
    // The silence was the start of what plays: its bars and its place in the song count.
    assert_eq!(bridge.collect().bars, [BarLine { time_s: 0.5, number: 1 }; 2]);
    assert_eq!(bridge.collect().places, [start]);
    bridge.restore(saved());
    assert_eq!(bridge.collect().readings.frames, 1, "a running pass is not overwritten");
}

/// A hit may come ahead of the snapshot that tells of it, and is not lost.
#[test]
fn a_saved_pass_gives_way_to_a_hit() {
    let (bridge, song) = (Bridge::default(), SongClock::default());
    bridge.restore(saved());
    let epoch = bridge.next_epoch();
    feed(&bridge, &song, epoch).hit(&Hit::default());
    assert!(!bridge.collect().from_saved_pass);
    bridge.publish(epoch, &played(10));
    assert_eq!(bridge.collect().hits.len(), 1);
}

/// Hosts that run silence before they hand the state over.
#[test]
fn a_pass_is_restored_over_silence() {
    let bridge = Bridge::default();
    bridge.publish(bridge.next_epoch(), &measured(480));
    assert_eq!(bridge.collect().readings.frames, 480);
    bridge.restore(saved());
    assert_eq!(bridge.collect().readings.frames, 99);
}

#[test]
fn a_saved_pass_is_saved_again_as_it_was() {
    let bridge = Bridge::default();
    bridge.restore(saved());
    assert_eq!(bridge.pass(), saved());
    bridge.restore(None);
    assert_eq!(bridge.pass(), None);
    assert!(!bridge.collect().from_saved_pass);
}

#[test]
fn a_reset_clears_a_saved_pass() {
    let bridge = Bridge::default();
    bridge.restore(saved());
    bridge.request_reset();
    assert_eq!(bridge.collect().readings.frames, 0);
    assert!(!bridge.collect().from_saved_pass);
}

/// A host that bounces at another rate and comes back has taken nothing away; what plays then replaces it.
#[test]
fn a_pass_stays_on_display_when_the_format_changes() {
    let bridge = Bridge::default();
    bridge.set_format(48_000.0, 2);
    bridge.publish(bridge.next_epoch(), &measured(480));
    bridge.keep_showing();
    assert!(!bridge.collect().from_saved_pass, "silence is no pass");
    bridge.publish(bridge.next_epoch(), &played(480));
    let before = bridge.pass();
    for rate_hz in [44_100.0, 48_000.0] {
        bridge.keep_showing();
        bridge.set_format(rate_hz, 2);
        let epoch = bridge.next_epoch();
        bridge.publish(epoch, &measured(0));
        assert!(bridge.collect().from_saved_pass);
        assert_eq!(bridge.collect().readings.frames, 480);
        assert_eq!(bridge.pass(), before);
    }
    bridge.publish(bridge.next_epoch(), &played(10));
    assert!(!bridge.collect().from_saved_pass);
    assert_eq!(bridge.collect().readings.frames, 10);
}

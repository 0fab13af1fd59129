//! What the parts cost over the song: the history that the mix keeps, beside what the engine reads of
//! the same stems as files.

use brunt_engine::LeakKind;
use brunt_engine::parts::PlaceCosts;
use brunt_report::report::Report;

use crate::bars::loose;
use crate::session::{Band, RATE_HZ, frames, offline, read, sum};

/// The song's places by measured time: a stretch of the song from a place on, s, and how long.
fn played(stretches: &[(f64, f64)], time_s: f64) -> Option<f64> {
    let mut start = 0.0;
    for (song_s, length_s) in stretches {
        if time_s < start + length_s {
            return Some(song_s + time_s - start);
        }
        start += length_s;
    }
    None
}

/// Times and costs of timing in the report's history, s and dB.
fn lane(report: &Report) -> Vec<(f64, Option<f64>)> {
    let Some(history) = &report.history else { return Vec::new() };
    let column = history.costs_db.get(LeakKind::Timing).unwrap_or_default();
    let middle = |k: usize| history.from_s + (k as f64 + 0.5) * history.step_s;
    column.iter().enumerate().map(|(k, cost)| (middle(k), *cost)).collect()
}

#[test]
fn the_history_tells_what_the_parts_cost_at_each_place() {
    let seconds = 24.0;
    // Loose from 10 to 16 s.
    let stems = loose(seconds, 1, 2.0, 10.0, 16.0);
    let expected = read(&offline(&stems, RATE_HZ), &sum(&stems));
    let mut places = PlaceCosts::default();
    places.take(&expected, (0.0, seconds));
    let cost = |song_s: f64| places.around(song_s, song_s).costs_db()[0];
    let (tight, spread) = (cost(5.0).expect("hits"), cost(13.0).expect("hits"));
    println!("{tight:.2} dB where the bass is tight, {spread:.2} dB where it is loose");
    assert!(spread > tight + 0.3, "{spread} dB where the bass is loose, {tight} dB elsewhere");

    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.play(&stems, frames(11.0), frames(15.0));
    band.stop();
    let stretches = [(0.0, seconds), (11.0, 4.0)];
    // A column of 0.1 s lies in one second of the song; to hundredths, as a report has it. Where the
    // loop begins and ends a stroke is heard without what lies around it, which can change a hit of
    // the twenty that a place is read from.
    let same = |time_s: f64, db: Option<f64>| {
        let Some(song_s) = played(&stretches, time_s) else { return true };
        let within = if (8.0..18.0).contains(&song_s) { 1.0 } else { 0.05 };
        match (db, cost(song_s)) {
            (Some(a), Some(b)) => (a - b).abs() < within,
            (a, b) => a == b,
        }
    };
    let report = band.report("the lane", |report| {
        let lane = lane(report);
        let off = lane.iter().find(|(time_s, db)| !same(*time_s, *db));
        if let Some((time_s, db)) = off {
            let want = played(&stretches, *time_s).and_then(cost);
            println!("{} columns; at {time_s:.2} s {db:?}, expected {want:?}", lane.len());
        }
        lane.len() >= 279 && off.is_none()
    });
    let lane = lane(&report);
    let at = |time_s: f64| lane[(time_s * 10.0) as usize].1.expect("known");
    assert!(at(13.05) > at(5.05) + 0.3 && (at(26.05) - at(13.05)).abs() < 0.3);
    // The guitar of the three is read by its own attack, so its lane is known, as the engine knows it.
    let drive = report.history.as_ref().and_then(|h| h.costs_db.get(LeakKind::Drive));
    let read = drive.unwrap_or_default()[130].expect("known");
    let want = places.around(13.05, 13.05).costs_db()[2].expect("hits");
    assert!((read - want).abs() < 0.05, "{read} dB of drive, expected {want}");

    // Saved and opened again, the lane is that of the session.
    let saved = band.mix.plugin.save().expect("saves");
    let mut again = crate::session::on_track("Mix");
    again.restore(&saved.bytes).expect("loads");
    let restored = again.save().expect("saves").report().expect("reads").expect("a pass");
    assert_eq!(self::lane(&restored), lane);
    // A session from before has no such columns and is read all the same.
    let mut old = saved.json().expect("reads");
    let text = old["fields"]["pass"].as_str().expect("a field").to_owned();
    let mut pass: serde_json::Value = serde_json::from_str(&text).expect("a pass");
    for kind in ["timing", "clutter", "drive"] {
        pass["report"]["history"]["costs_db"][kind] = serde_json::Value::Null;
    }
    old["fields"]["pass"] = pass.to_string().into();
    let old = brunt_host::SavedState::from_json(&old);
    again.restore(&old.bytes).expect("loads");
    let restored = again.save().expect("saves").report().expect("reads").expect("a pass");
    assert!(self::lane(&restored).is_empty() && restored.history.is_some());
}

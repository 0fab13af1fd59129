//! What parts give where there is little to read, and what a double in one file gives.

use crate::rig::{RATE, measure_all, track};
use brunt_engine::parts::{PartRole, Session};
use brunt_engine::{Need, State, Thresholds};
use brunt_lab::corpus::Stereo;
use brunt_lab::session::{Feel, testing};

/// Silence, one part alone and no part at all are unknown, never clear.
#[test]
fn too_little_is_unknown() {
    let silent = track(PartRole::Bass, "silent", &Stereo::silence(RATE, 5 * RATE as usize));
    assert!(silent.onsets.is_empty() && silent.sides.is_empty());
    for tracks in [vec![], vec![silent.clone()], vec![silent.clone(), silent]] {
        let reading = Session { tracks }.read(&Thresholds::default());
        assert_eq!(reading.timing.leak.state, State::Unknown);
        assert_eq!(reading.timing.leak.cost, None);
        assert!(reading.rows.iter().all(|row| row.offset_ms.is_none()));
    }
}

/// A part 57 ms late as a whole is no looseness: its offset is told to 3 ms beside the timing leak,
/// and no other part's. One as early is not late by latency, and in a song at 138 beats a minute
/// 57 ms are half of a sixteenth, which a part may play on purpose.
#[test]
fn a_part_that_is_late_as_a_whole_is_told() {
    for (number, told) in [(4, true), (1, false)] {
        let mut plan = testing::all().swap_remove(number);
        plan.layer("guitar-left").feel = Feel::of(57.0, 2.0);
        plan.layer("guitar-right").feel = Feel::of(-57.0, 2.0);
        let measured = measure_all(vec![plan]).swap_remove(0);
        let timing = measured.read().timing;
        for (layer, beyond) in measured.plan.layers.iter().zip(&timing.beyond_ms) {
            println!("{} {}: {beyond:?} ms", measured.plan.name, layer.name);
            if layer.name == "guitar-left" && told {
                assert!(beyond.is_some_and(|ms| (ms - 57.0).abs() <= 3.0), "{beyond:?}");
            } else {
                assert_eq!(*beyond, None, "{}", layer.name);
            }
        }
    }
}

/// Where too few strokes of two parts fall together, it is strokes that are asked for, as many as
/// there are.
#[test]
fn too_few_shared_strokes_are_counted() {
    let measured = measure_all(vec![testing::all().swap_remove(1)]).swap_remove(0);
    let session = &measured.session;
    let part = |role, onsets: usize| {
        let mut track =
            session.tracks.iter().find(|t| t.role == role).expect("in the plan").clone();
        track.onsets.truncate(onsets);
        track
    };
    let tracks = vec![part(PartRole::Drums, usize::MAX), part(PartRole::Guitars, 9)];
    let reading = Session { tracks }.read(&Thresholds::default());
    let Need::Shared { have, want: 12 } = reading.timing.leak.need else {
        panic!("{:?}", reading.timing.leak.need)
    };
    assert!((1..=9).contains(&have), "{have}");
}

/// Two takes panned apart in one file are read against each other: 14 ms between them, 2 ms off
/// at most.
#[test]
fn left_and_right_of_one_file_are_two_takes() {
    let mut plan = testing::all().swap_remove(1);
    plan.layer("guitar-left").feel = Feel::of(0.0, 2.0);
    plan.layer("guitar-right").feel = Feel::of(14.0, 2.0);
    let measured = measure_all(vec![plan]).swap_remove(0);
    let mut both = measured.rendered.stem("guitar-left").audio.clone();
    both.add(&measured.rendered.stem("guitar-right").audio, 0, 1.0, 1.0);
    let tracks = vec![track(PartRole::Guitars, "guitars", &both)];
    let reading = Session { tracks }.read(&Thresholds::default());
    let [double] = &reading.timing.doubles[..] else { panic!("one double expected") };
    assert_eq!((double.first, double.second), (0, 0));
    let late = double.deviation.offset_ms;
    println!("right against left: {late:.1} ms, spread {:.1} ms", double.deviation.spread_ms);
    assert!((late - 14.0).abs() <= 2.0, "{late:.1} ms, expected 14");
}

/// A drift of 60 ms a minute is read with its sign, and a passage that is 18 ms late is found.
#[test]
fn drift_and_passages_are_told() {
    let mut plan = testing::all().swap_remove(1);
    plan.bars = 20;
    plan.layer("guitar-left").feel = Feel { drift_ms: 60.0, ..Feel::of(0.0, 2.0) };
    plan.layer("bass").feel = Feel { passage: Some((8, 11, 18.0)), ..Feel::of(0.0, 2.0) };
    let bar_s = 4.0 * 60.0 / plan.tempo;
    let measured = measure_all(vec![plan]).swap_remove(0);
    let reading = measured.read();
    let part = |name: &str| {
        let index = measured.plan.layers.iter().position(|layer| layer.name == name);
        reading.timing.parts[index.expect("a layer")].as_ref().expect("shared events")
    };
    let (slope, range) = part("guitar-left").drift_ms_a_minute.expect("a long song");
    println!("drift {slope:.1} +- {range:.1} ms a minute");
    assert!((slope - 60.0).abs() <= 6.0, "drift {slope:.1} ms a minute, expected 60");
    let passage = part("bass").passages.first().expect("a late passage");
    let (from, to) = (0.5 + 8.0 * bar_s, 0.5 + 11.0 * bar_s);
    println!("passage {:.1}-{:.1} s, true {from:.1}-{to:.1} s", passage.from_s, passage.to_s);
    assert!(passage.from_s < to && passage.to_s > from, "the passage lies elsewhere");
    assert!((passage.offset_ms - 18.0).abs() <= 4.0, "{:.1} ms, expected 18", passage.offset_ms);
}

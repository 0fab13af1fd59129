//! Who is there: instances that come, go, change their role, rate and name.

use brunt_engine::parts::PartRole::{Bass, Drums, Guitars, Other, Vocals};
use brunt_engine::{Need, State};
use brunt_host::{Block, SavedState, Side};
use brunt_report::report::Report;
use serde_json::json;

use crate::session::{
    Band, Player, RATE_HZ, Stem, become_part, close, frames, grid, offline, on_track, read,
    strokes, sum, trio,
};

#[test]
fn a_part_that_is_removed_leaves_and_one_that_comes_is_heard() {
    let seconds = 8.0;
    let stems = trio(seconds, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(4.0));
    band.report("three parts", |report| report.parts.len() == 3);
    // While it plays, and without a word before.
    drop(band.parts.remove(1));
    let rest = [stems[0].clone(), stems[2].clone()];
    band.play(&rest, frames(4.0), frames(6.0));
    let report = band.report("two parts", |report| report.parts.len() == 2);
    let names: Vec<_> = report.parts.iter().map(|part| part.file.as_str()).collect();
    assert_eq!(names, ["Kit", "Rhythm guitar"]);
    drop(band.parts.remove(1));
    drop(band.parts.remove(0));
    band.report("no part", |report| {
        report.parts.is_empty() && report.leaks.timing.state == State::Unknown
    });
}

/// One tick of the reading for 69 parts, and none of them forgotten.
#[test]
fn seventy_instances() {
    let seconds = 5.0;
    let names: Vec<&'static str> =
        (0..69).map(|k| &*Box::leak(format!("Part {k:02}").into_boxed_str())).collect();
    let roles = [Drums, Bass, Guitars, Vocals, Other];
    let kit = strokes(&grid(seconds, 0.0), seconds, RATE_HZ, 1);
    let late = strokes(&grid(seconds, 10.0), seconds, RATE_HZ, 2);
    let stems: Vec<Stem> = (0..69)
        .map(|k| Stem {
            name: names[k],
            role: roles[usize::from(k > 0) * (1 + k % 4)],
            planes: if k == 0 { kit.clone() } else { late.clone() },
        })
        .collect();
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.stop();
    let onsets = offline(&stems[1..2], RATE_HZ)[0].onsets.len();
    let report = band.report("69 parts", |report| {
        report.parts.len() == 69 && report.parts[1..].iter().all(|p| p.onsets_s.len() == onsets)
    });
    for part in &report.parts[1..] {
        let offset = part.offset_ms.expect("known");
        assert!((offset - 10.0).abs() < 1.0, "{}: {offset}", part.file);
    }
}

#[test]
fn a_change_of_rate_starts_the_parts_anew() {
    let seconds = 5.0;
    let stems = trio(seconds, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.report("three parts", |report| report.parts.len() == 3);
    let high = 96_000.0;
    band.set_rate(high);
    let stems = trio(seconds, high);
    band.play(&stems, 0, (seconds * high) as usize);
    band.stop();
    let tracks = offline(&stems, high);
    let expected = read(&tracks, &sum(&stems));
    let report = band.report_like(&expected, &tracks);
    for (part, row) in report.parts.iter().zip(&expected.rows) {
        close(part.spread_ms, row.spread_ms, &part.file);
    }
}

/// What a stopped or silent host leaves unknown is not called clear.
#[test]
fn without_a_place_in_the_song_nothing_is_known() {
    let stems = trio(4.0, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    let unknown = |report: &Report| {
        let leaks = &report.leaks;
        [&leaks.timing, &leaks.clutter, &leaks.drive.leak].iter().all(|leak| {
            leak.state == State::Unknown && leak.cost_db.is_none() && leak.need.is_some()
        })
    };
    for _ in 0..20 {
        band.stop();
    }
    band.play_as(&stems, 0, frames(4.0), false);
    std::thread::sleep(std::time::Duration::from_millis(700));
    let report = band.report("nothing known", |_| true);
    assert!(unknown(&report), "{:?}", report.leaks);
    assert!(report.parts.is_empty());
    assert_eq!(report.leaks.timing.need, Some(Need::Parts));
    // As soon as the host tells its place, the parts are there.
    band.play(&stems, 0, frames(4.0));
    band.report("three parts", |report| report.parts.len() == 3 && !unknown(report));
}

#[test]
fn trim_and_names_count_and_are_kept() {
    let seconds = 5.0;
    let stems = trio(seconds, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.stop();
    let tracks = offline(&stems, RATE_HZ);
    let before = band.report_like(&read(&tracks, &sum(&stems)), &tracks);
    let offset = |report: &Report| report.parts[1].offset_ms.expect("known");
    // A track that is 30 ms late by its plug-ins' latency is brought back by as much.
    let bass = &mut band.parts[1];
    let mut state = bass.plugin.save().expect("saves").json().expect("reads");
    state["params"]["trim"] = json!({ "f32": -30.0 });
    state["fields"]["part"] = json!("\"Bass DI\"");
    let saved = SavedState::from_json(&state);
    bass.plugin.restore(&saved.bytes).expect("loads");
    let report = band.report("the new name", |report| {
        report.parts.len() == 3 && report.parts[1].file == "Bass DI"
    });
    let moved = offset(&report) - offset(&before);
    assert!((moved + 30.0).abs() < 1e-6, "moved by {moved} ms");
    // The user's name stands whatever the host calls the track; another part follows its track.
    band.parts[1].plugin.rename_track("Audio 7");
    band.parts[0].plugin.rename_track("Kit bus");
    let report = band.report("the track's new name", |report| {
        report.parts.first().is_some_and(|part| part.file == "Kit bus")
    });
    assert_eq!(report.parts[1].file, "Bass DI");
    let again = band.parts[1].plugin.save().expect("saves");
    assert_eq!(again.field("part").expect("kept"), json!("Bass DI"));
    assert_eq!(again.json().expect("reads")["params"]["role"], state["params"]["role"]);
    // An empty name gives way to the track's.
    state["fields"]["part"] = json!("null");
    let saved = SavedState::from_json(&state);
    band.parts[1].plugin.restore(&saved.bytes).expect("loads");
    band.report("the track's name", |report| report.parts[1].file == "Audio 7");
}

#[test]
fn a_reset_on_the_mix_forgets_what_was_heard() {
    let stems = trio(6.0, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(4.0));
    band.report("three parts", |report| report.parts.len() == 3);
    band.reset_mix();
    band.report("no part", |report| report.parts.is_empty());
    band.play(&stems, frames(4.0), frames(6.0));
    let report = band.report("only what came later", |report| report.parts.len() == 3);
    assert!(report.parts[0].onsets_s.iter().all(|at| *at > 3.9), "{:?}", report.parts[0]);
}

/// Two mixes hear the same parts; an instance that is the mix again is no part any more.
#[test]
fn roles_change_while_all_of_it_plays() {
    let stems = trio(4.0, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    let mut late = on_track("Late");
    become_part(&mut late, Vocals);
    band.play(&stems, 0, frames(4.0));
    band.report("three parts", |report| report.parts.len() == 3);
    let role = band.parts[2].plugin.parameter("Role").expect("there");
    let mix = sum(&stems);
    let main: Vec<&[f32]> = mix.iter().map(|plane| &plane[..480]).collect();
    let changes = [role.event(0.0)];
    let side = Side::Channels(&main);
    let block = Block { main: &main, side, changes: &changes, ..Block::default() };
    band.parts[2].audio().process(&block).expect("processes");
    band.report("two parts", |report| report.parts.len() == 2);
    let measured = band.parts[2].plugin.save().expect("saves").report().expect("reads");
    assert!(measured.is_some_and(|report| report.mix.duration_s > 0.0), "it measures as a mix");
}

/// But for the drums, whose own hits are measured.
#[test]
fn a_part_is_not_measured_as_a_mix() {
    let stems = trio(2.0, RATE_HZ);
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(2.0));
    let measured = |part: &mut Player| part.plugin.save().expect("saves").report().expect("reads");
    let [drums, bass, guitar] = &mut band.parts[..] else { panic!("three parts") };
    assert!(measured(bass).is_none() && measured(guitar).is_none());
    let drums = measured(drums).expect("measured");
    assert_eq!(drums.punch.hits, 6, "six of eight quarter seconds are struck");
    assert_eq!(drums.leaks.mids.leak.need, Some(Need::Mix));
}

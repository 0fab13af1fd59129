//! Linked instances: what the instance on the mix bus reads of the parts, beside what the engine
//! reads of the same stems as files.

use brunt_engine::parts::PartRole::{Drums, Other};
use brunt_engine::{CeilingKind, Config, Meter, State};
use brunt_lab::corpus::audio::db;
use brunt_lab::corpus::mix::{self, Library};
use brunt_lab::corpus::process::{self, Processor, limit};
use brunt_lab::corpus::{Stereo, songs};
use brunt_lab::session::{Feel, Layer, render, testing};
use brunt_report::report::{LeakReport, PartCeilingReport};

use crate::session::{
    Band, RATE_HZ, Stem, at_faders, close, frames, grid, offline, read, strokes, sum, trio,
};

fn known_leak(report: &LeakReport, leak: &brunt_engine::PartLeak, what: &str) {
    assert_eq!(report.state, leak.state, "{what}");
    close(report.cost_db, leak.cost.map(|c| c.db), what);
    close(report.cost_low_db, leak.cost.map(|c| c.low_db), what);
    close(report.cost_high_db, leak.cost.map(|c| c.high_db), what);
}

/// The bars on a programmed session with real drum samples, and every number as from files.
#[test]
fn a_programmed_session_reads_as_from_files() {
    let mut plan = testing::all().swap_remove(1);
    plan.bars = 6;
    let feels = [("bass", 9.0, 2.0), ("guitar-left", 16.0, 3.0), ("guitar-right", -8.0, 3.0)];
    for (name, offset, spread) in feels {
        plan.layer(name).feel = Feel::of(offset, spread);
    }
    let session = render(&plan, 48_000, &mut Library::default()).unwrap_or_else(|e| panic!("{e}"));
    let stem = |stem: &brunt_lab::session::Stem| Stem {
        name: stem.name,
        role: stem.role,
        planes: vec![stem.audio.left.clone(), stem.audio.right.clone()],
    };
    let stems: Vec<Stem> = session.stems.iter().map(stem).collect();
    let tracks = offline(&stems, RATE_HZ);
    let expected = read(&tracks, &sum(&stems));
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, stems[0].planes[0].len());
    band.stop();
    let report = band.report_like(&expected, &tracks);
    for (part, (row, track)) in report.parts.iter().zip(expected.rows.iter().zip(&tracks)) {
        assert_eq!((&*part.file, &*part.role), (&*track.name, track.role.code()));
        let what = |number: &str| format!("{}: {number}", part.file);
        close(part.offset_ms, row.offset_ms, &what("offset"));
        close(part.spread_ms, row.spread_ms, &what("spread"));
        close(part.early_share, row.early_share, &what("early share"));
        close(part.shared_onset_ratio, row.shared_onset_ratio, &what("shared onsets"));
        close(part.sustain_ratio, row.sustain_ratio, &what("sustain"));
        close(part.attack_to_sustain_db, row.attack_to_sustain_db, &what("attack to sustain"));
        close(part.leak_costs_db.timing, row.costs.timing_db, &what("timing"));
        close(part.leak_costs_db.clutter, row.costs.clutter_db, &what("clutter"));
        close(part.leak_costs_db.drive, row.costs.drive_db, &what("drive"));
        let suggested = row.suggested.map(|suggested| suggested.role.code());
        assert_eq!(part.role_suggested.as_deref(), suggested, "{}", part.file);
        for (at, onset) in part.onsets_s.iter().zip(&track.onsets) {
            assert!((at - onset.time_s).abs() < 1e-9, "{}", part.file);
        }
    }
    let says = |k: usize| report.parts[k].role_suggested.as_deref();
    assert_eq!((says(0), says(1)), (Some("drums"), Some("bass")));
    known_leak(&report.leaks.timing, &expected.timing.leak, "timing");
    known_leak(&report.leaks.clutter, &expected.clutter.leak, "clutter");
    known_leak(&report.leaks.drive.leak, &expected.drive.leak, "drive");
    assert_ne!(report.leaks.timing.state, State::Unknown);
    // The bar: 3 ms at worst. The truth is what was rendered.
    for (name, ..) in feels {
        let deviations = session.deviations_ms(name, "drums");
        let mut late: Vec<f64> = deviations.iter().map(|(_, ms)| *ms).collect();
        late.sort_by(f64::total_cmp);
        let truth = late[late.len() / 2];
        let part = report.parts.iter().find(|p| p.file == name).expect("listed");
        let read = part.offset_ms.expect("known");
        println!("{name}: {read:.2} ms read, {truth:.2} ms rendered");
        assert!((read - truth).abs() <= 3.0, "{name}: {read} ms read, {truth} ms rendered");
    }
    assert!(report.leaks.timing.says.contains("drums"), "{}", report.leaks.timing.says);
}

/// Instances on tracks hear their parts ahead of the faders, and costs hang on how loud the parts are
/// among themselves: what is read is what the parts cost as they lie in the mix.
#[test]
fn costs_are_those_of_the_parts_as_they_lie_in_the_mix() {
    const OFF_MOST_DB: f64 = 0.3;
    let mut plan = testing::all().swap_remove(1);
    plan.bars = 8;
    plan.layer("bass").feel = Feel::of(18.0, 2.0);
    let layer = Layer { level_lufs: -20.0, ..Layer::pad("layer", 50, "C---------------") };
    plan.layers.push(layer);
    let session = render(&plan, 48_000, &mut Library::default()).unwrap_or_else(|e| panic!("{e}"));
    let stem = |stem: &brunt_lab::session::Stem| Stem {
        name: stem.name,
        role: stem.role,
        planes: vec![stem.audio.left.clone(), stem.audio.right.clone()],
    };
    let stems: Vec<Stem> = session.stems.iter().map(stem).collect();
    // Drums and bass down, layer up, and the others anywhere.
    let faders: Vec<f32> = stems
        .iter()
        .map(|stem| match stem.name {
            "layer" => 1.6,
            _ if stem.role == Drums => 0.5,
            "bass" => 0.7,
            _ => 1.0,
        })
        .collect();
    let lying = at_faders(&stems, &faders);
    let in_mix = read(&offline(&lying, RATE_HZ), &sum(&lying));
    let tracks = offline(&stems, RATE_HZ);
    let as_they_come = read(&tracks, &sum(&lying));
    let mut band = Band::new(&stems, RATE_HZ);
    band.faders = faders;
    band.play(&stems, 0, stems[0].planes[0].len());
    band.stop();
    let report = band.report_heard(&as_they_come, &tracks);
    let mut apart: f64 = 0.0;
    for (what, read, leaks) in [
        ("timing", &report.leaks.timing.leak, [&in_mix.timing.leak, &as_they_come.timing.leak]),
        ("clutter", &report.leaks.clutter, [&in_mix.clutter.leak, &as_they_come.clutter.leak]),
    ] {
        let [want, came] = leaks.map(|leak| leak.cost.expect("known").db);
        let got = read.cost_db.expect("known");
        println!("{what}: {got:.2} dB, {want:.2} as in the mix, {came:.2} ahead of the faders");
        assert!((got - want).abs() <= OFF_MOST_DB, "{what}: {got} for {want} dB");
        apart = apart.max((came - want).abs());
    }
    assert!(apart > 2.0 * OFF_MOST_DB, "the faders change too little to show anything: {apart} dB");
}

/// A limiter on the drum bus of a song that no fit has seen is told by the drums' instance on the mix,
/// in the numbers that the engine gives of the same samples; after a reset there the drums start anew.
#[test]
fn a_limiter_on_the_drum_bus_is_heard_on_the_mix() {
    const DRIVE_DB: f64 = 8.0;
    let song = songs::ALL.iter().find(|song| song.name == "late-train").expect("there");
    let mix = mix::render(song, 48_000, &mut Library::default()).expect("rendered");
    let mut rest = process::without_drums(&mix).expect("drums");
    rest.gain(db(DRIVE_DB));
    let limiter = Processor::Limiter(limit::FAST);
    let limited = process::run_on_drums(limiter, &mix, DRIVE_DB).expect("limited").after;
    let stem = |name, role, audio: &Stereo| Stem {
        name,
        role,
        planes: vec![audio.left.clone(), audio.right.clone()],
    };
    let stems = [stem("Kit", Drums, &limited), stem("All else", Other, &rest)];
    let mut meter = Meter::new(Config { sample_rate_hz: RATE_HZ, channels: 2 }).expect("a rate");
    meter.process(&[&limited.left, &limited.right], None, &mut ());
    let expected = PartCeilingReport::from(&meter.readings().leaks.ceiling);
    assert_eq!(expected.kind, Some(CeilingKind::Limiter));
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, limited.len());
    let report = band.report("the drums' ceiling", |report| {
        report.parts.first().is_some_and(|kit| kit.ceiling.as_ref() == Some(&expected))
    });
    println!("drums: {}; mix: {}", expected.says, report.leaks.ceiling.leak.says);
    assert!(report.parts[1].ceiling.is_none());
    let advice = &report.leaks.ceiling.leak.advice;
    assert!(report.leaks.ceiling.leak.state.loses() || advice.starts_with("Ease"), "{advice}");
    // The drums' own window has it, too.
    let own = band.parts[0].plugin.save().expect("saves").report().expect("reads");
    let own = own.expect("measured");
    assert_eq!(own.leaks.ceiling.implied_reduction_db, expected.implied_reduction_db);
    band.reset_mix();
    band.report("no part", |report| report.parts.is_empty());
    band.play(&stems, 0, frames(4.0));
    band.report("drums that start anew", |report| {
        let kit = report.parts.first().and_then(|kit| kit.ceiling.as_ref());
        kit.is_some_and(|ceiling| ceiling.state == State::Unknown)
    });
}

/// A pass over a loop replaces what was heard there, and leaves the rest; a jump makes no onset.
#[test]
fn a_loop_replaces_what_was_heard_in_it() {
    let seconds = 10.0;
    let first = trio(seconds, RATE_HZ);
    let mut second = first.clone();
    second[1].planes = strokes(&grid(seconds, 25.0), seconds, RATE_HZ, 9);
    let mut band = Band::new(&first, RATE_HZ);
    band.play(&first, 0, frames(seconds));
    // Bars at 120 beats a minute are 2 s; the loop is played twice and a half.
    for _ in 0..2 {
        band.play(&second, frames(4.0), frames(8.0));
    }
    band.play(&second, frames(4.0), frames(6.0));
    band.stop();
    let (old, new) = (offline(&first, RATE_HZ), offline(&second, RATE_HZ));
    let times = |tracks: &[brunt_engine::parts::PartTrack], from: f64, to: f64| -> Vec<f64> {
        let times = tracks[1].onsets.iter().map(|onset| onset.time_s);
        times.filter(|t| (from..to).contains(t)).collect()
    };
    let mut expected = times(&old, 0.0, 4.0);
    expected.extend(times(&new, 4.0, 8.0));
    expected.extend(times(&old, 8.0, seconds));
    let report = band.report("the loop's second version", |report| {
        report.parts.get(1).is_some_and(|part| {
            part.onsets_s.len() == expected.len()
                && part.onsets_s.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-3)
        })
    });
    assert_eq!(report.parts[1].file, "Low end");
    // 16 strokes at 25 ms among 38: the median stays at the 12 ms of the others.
    let bass = report.parts[1].offset_ms.expect("known");
    assert!((bass - 12.0).abs() < 1.0, "{bass}");
    // The other parts came back the same.
    close(report.parts[0].offset_ms, None, "the reference has no offset");
    let guitar = report.parts[2].offset_ms.expect("known");
    assert!((guitar + 7.0).abs() < 1.0, "{guitar}");
}

/// Two takes of a riff in one stereo part are read against each other, as of the file.
#[test]
fn left_and_right_of_a_doubled_guitar_are_told_apart() {
    let seconds = 12.0;
    let mut stems = trio(seconds, RATE_HZ);
    let right = strokes(&grid(seconds, 6.0), seconds, RATE_HZ, 4).swap_remove(1);
    stems[2].planes[1] = right;
    let expected = read(&offline(&stems, RATE_HZ), &sum(&stems));
    let [double] = &expected.timing.doubles[..] else { panic!("{:?}", expected.timing.doubles) };
    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.stop();
    let report = band.report("the double", |report| {
        let doubles = report.timing.as_ref().map(|timing| &timing.doubles[..]);
        matches!(doubles, Some([live]) if live.timing.shared == double.deviation.shared)
    });
    let live = &report.timing.expect("parts").doubles[0];
    assert_eq!((&*live.first, &*live.second), ("Rhythm guitar", "Rhythm guitar"));
    // Left is 7 ms early, right 6 ms late.
    assert!((live.timing.offset_ms - 13.0).abs() < 1.0, "{} ms", live.timing.offset_ms);
    close(Some(live.timing.offset_ms), Some(double.deviation.offset_ms), "offset");
    close(Some(live.timing.spread_ms), Some(double.deviation.spread_ms), "spread");
}

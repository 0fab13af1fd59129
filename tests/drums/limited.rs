//! The same beat through an independent limiter at known drives.

use crate::rendered::{RATE, Rendered, meter, one};
use brunt_engine::{Ceiling, CeilingKind, Config, Meter, State, Thresholds, thresholds as t};
use brunt_lab::corpus::ceiling::{CeilingTruth, at};
use brunt_lab::corpus::mix::Library;
use brunt_lab::corpus::process::{Processor, after::After, limit::FAST, run};
use brunt_lab::corpus::{Stereo, songs, unlimited};
use brunt_lab::session::{Stem, render, testing};

/// Songs of the test: played and programmed, dense and sparse.
const SONGS: [&str; 4] = ["gravel-road", "short-fuse", "late-train", "night-shift"];
/// ffmpeg `alimiter` at its default attack and release.
const ALIMITER: Processor = Processor::Alimiter { attack_ms: 5.0, release_ms: 50.0, asc: false };

/// One of the three readings of the reduction over hits.
type Reading = fn(&Ceiling) -> Option<f64>;

struct Step {
    drive_db: f64,
    truth: CeilingTruth,
    read: Ceiling,
}

fn step(rendered: &Rendered, drive_db: f64) -> Step {
    let both = run(ALIMITER, &rendered.mix, drive_db).unwrap_or_else(|e| panic!("{e}"));
    let measured = meter(&both.after);
    let hits: Vec<_> = measured.times().into_iter().map(|t| (t, Vec::new())).collect();
    Step { drive_db, truth: at(&both, &hits), read: measured.readings.leaks.ceiling }
}

fn level(reading: Option<f64>, what: &str) -> f64 {
    reading.unwrap_or_else(|| panic!("{what} is unknown"))
}

/// Driven 0, 3, 6, 9 dB into ffmpeg's `alimiter`, the implied reduction rises with each step: the
/// largest over hits always, and the 90th percentile and the median wherever the true ones rise by
/// a decibel or more. (At 3 dB only the loudest hits are caught: the true median stays at 0.)
#[test]
fn implied_reduction_rises_with_each_step_of_an_independent_limiter() {
    let mut wrong = Vec::new();
    for song in SONGS {
        let steps = [0.0, 3.0, 6.0, 9.0].map(|drive| step(one(song), drive));
        for s in &steps {
            println!(
                "{song:<14} {} dB: true {:.2} / {:.2} / {:.2}, read {:.2?} / {:.2?} / {:.2?}, {:?} {:?}",
                s.drive_db,
                s.truth.reduction_db(0.5),
                s.truth.reduction_db(0.9),
                s.truth.reduction_db(1.0),
                s.read.implied_reduction_db,
                s.read.implied_reduction_p90_db,
                s.read.implied_reduction_max_db,
                s.read.state,
                s.read.kind,
            );
        }
        let readings: [(f64, &str, Reading); 3] = [
            (0.5, "median", |c| c.implied_reduction_db),
            (0.9, "p90", |c| c.implied_reduction_p90_db),
            (1.0, "largest", |c| c.implied_reduction_max_db),
        ];
        for pair in steps.windows(2) {
            for (q, name, read) in readings {
                let rise = pair[1].truth.reduction_db(q) - pair[0].truth.reduction_db(q);
                let (low, high) =
                    (level(read(&pair[0].read), name), level(read(&pair[1].read), name));
                if rise >= 1.0 && high <= low {
                    wrong.push(format!(
                        "{song}, {} to {} dB: {name} reads {low:.2} then {high:.2} dB, true rise {rise:.2}",
                        pair[0].drive_db, pair[1].drive_db
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn clear(what: &str, audio: &Stereo) -> Option<String> {
    let ceiling = meter(audio).readings.leaks.ceiling;
    let fine = ceiling.state == State::Clear && ceiling.kind == Some(CeilingKind::None);
    (!fine).then(|| format!("{what}: {:?}, {:?}", ceiling.state, ceiling.kind))
}

/// The ceiling leak is clear ahead of any limiter, after one that has nothing to do, and after a
/// plain fader move of either.
#[test]
fn clear_without_limiting_and_after_a_fader_move() {
    let mut wrong = Vec::new();
    for song in SONGS {
        let rendered = one(song);
        let idle = run(ALIMITER, &rendered.mix, 0.0).unwrap_or_else(|e| panic!("{e}"));
        wrong.extend(clear(&format!("{song} unlimited"), &rendered.mix.audio));
        wrong.extend(clear(&format!("{song} limiter idle"), &idle.after));
        for fader in [-7.3, 2.9] {
            let moved = After::Fader(fader).run(&idle.after).unwrap_or_else(|e| panic!("{e}"));
            wrong.extend(clear(&format!("{song} fader {fader} dB"), &moved));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A hard clipper leaves runs of equal samples at the top, a limiter none: where one is told, it is the
/// one that was there. The truth is the processor.
#[test]
fn a_clipper_is_told_from_a_limiter() {
    let kinds = |processor: Processor| -> Vec<CeilingKind> {
        let runs = SONGS.into_iter().flat_map(|song| {
            [3.0, 6.0].map(|drive| {
                let both = run(processor, &one(song).mix, drive).unwrap_or_else(|e| panic!("{e}"));
                meter(&both.after).readings.leaks.ceiling.kind
            })
        });
        runs.flatten().filter(|kind| *kind != CeilingKind::None).collect()
    };
    for limiter in [ALIMITER, Processor::Limiter(FAST)] {
        let told = kinds(limiter);
        assert!(told.len() >= 4 && !told.contains(&CeilingKind::Clipper), "{limiter:?}: {told:?}");
    }
    let told = kinds(Processor::HardClip);
    let clippers = told.iter().filter(|kind| **kind == CeilingKind::Clipper).count();
    println!("{clippers} of {} hard clips are told", told.len());
    assert!(told.len() >= 4 && clippers * 10 >= told.len() * 8, "{told:?}");
}

/// A fader move behind the limiter changes no reading of the reduction.
#[test]
fn a_fader_move_changes_nothing() {
    let both = run(ALIMITER, &one("gravel-road").mix, 9.0).unwrap_or_else(|e| panic!("{e}"));
    let before = meter(&both.after).readings.leaks.ceiling;
    let moved = After::Fader(-11.7).run(&both.after).unwrap_or_else(|e| panic!("{e}"));
    let after = meter(&moved).readings.leaks.ceiling;
    let (a, b) =
        (level(before.implied_reduction_db, "before"), level(after.implied_reduction_db, "after"));
    assert!((a - b).abs() < 0.05, "{a:.3} dB became {b:.3} dB");
    assert_eq!(before.state, after.state);
}

/// Material that no limiter touched and that looks as if one had is not called limited: pads, soft
/// brushes, saturated guitars alone, mixes through a compressor with a slow attack. Too few hits
/// to know is a fair answer; a limiter or a clipper is not.
#[test]
fn low_crest_material_is_not_called_limited() {
    let mut library = Library::default();
    let called = unlimited::ALL.iter().filter_map(|piece| {
        let audio = piece.render(RATE, &mut library).unwrap_or_else(|e| panic!("{e}"));
        called_limited(piece.name, &audio)
    });
    assert_eq!(called.collect::<Vec<_>>(), [""; 0]);
}

/// Nor are the parts of sessions alone, whose fonts, strings and amplifiers no fit has seen: strokes and
/// notes that are as loud as each other, and ones that an amplifier makes so.
#[test]
fn parts_alone_are_not_called_limited() {
    let mut library = Library::default();
    let sessions = ["blue-crane", "iron-ferry", "loose-gravel", "quick-hare"];
    let called = sessions.into_iter().flat_map(|name| {
        let plan = testing::all().into_iter().find(|plan| plan.name == name).expect(name);
        let session = render(&plan, RATE, &mut library).unwrap_or_else(|e| panic!("{e}"));
        let called = |stem: Stem| called_limited(&format!("{name} {}", stem.name), &stem.audio);
        session.stems.into_iter().filter_map(called).collect::<Vec<_>>()
    });
    assert_eq!(called.collect::<Vec<_>>(), [""; 0]);
}

/// What is called, where something is.
fn called_limited(what: &str, audio: &Stereo) -> Option<String> {
    let read = meter(audio).readings.leaks.ceiling;
    println!("{what:<26} {:?} {:?} {:.2?}", read.state, read.kind, read.implied_reduction_db);
    let called = matches!(read.kind, Some(CeilingKind::Limiter | CeilingKind::Clipper));
    called.then(|| format!("{what}: {:?}, {:?}", read.state, read.kind))
}

/// A threshold that is moved while the song plays: the reading of the present section follows
/// within four bars, the one of the whole song stays between, and the state does not flicker.
/// Source of the four bars: ours (issue of this reading); truth: the same passage limited from its
/// start.
#[test]
fn the_section_follows_a_moved_threshold_within_four_bars() {
    const DRIVE_DB: f64 = 9.0;
    let rendered = one("gravel-road");
    let tempo =
        songs::ALL.iter().find(|song| song.name == "gravel-road").expect("it is there").tempo;
    let bar_s = 4.0 * 60.0 / tempo;
    let [idle, driven] = [0.0, DRIVE_DB]
        .map(|db| run(ALIMITER, &rendered.mix, db).unwrap_or_else(|e| panic!("{e}")).after);
    let moved_s = 7.0 * bar_s;
    let moved = (moved_s * f64::from(idle.rate)) as usize;
    let splice = |a: &[f32], b: &[f32]| [&a[..moved], &b[moved..]].concat();
    let both = Stereo {
        rate: idle.rate,
        left: splice(&idle.left, &driven.left),
        right: splice(&idle.right, &driven.right),
    };
    let at = |s: f64| (s * f64::from(both.rate)) as usize;
    // The section of the driven version at the same place is what must be reached.
    let wanted = sections(&driven, at(moved_s + 4.0 * bar_s));
    let followed = sections(&both, at(moved_s + 4.0 * bar_s));
    // At the end every hit is read, so both last readings are made of the same hits.
    let cost = |c: &Ceiling| c.cost.expect("a cost").db;
    let [got, want] = [&followed, &wanted].map(|all| *all.last().expect("readings"));
    let reduction = |c: &Ceiling| level(c.implied_reduction_p90_db, "the section's reduction");
    let before = followed[followed.len() * 5 / 8];
    println!(
        "p90 reduction before {:.2} dB, four bars after {:.2} dB, of a version limited throughout {:.2} dB",
        reduction(&before),
        reduction(&got),
        reduction(&want)
    );
    assert!(reduction(&got) >= 0.8 * reduction(&want), "it does not follow");
    assert_eq!(before.kind, Some(CeilingKind::None));
    // The costs agree. Where the states do not, it is because the one of the version limited
    // throughout has stayed: its cost lies so little under the limit.
    assert!((cost(&got) - cost(&want)).abs() < 0.05, "{} for {}", cost(&got), cost(&want));
    if got.state != want.state {
        assert_eq!((got.state, want.state), (State::Watch, State::Leaking));
        let limit = Thresholds::default().leaking_db;
        assert!((limit - t::STATE_HOLD_DB..limit).contains(&cost(&want)), "{}", cost(&want));
    }
    let changes = followed.windows(2).filter(|two| two[0].state != two[1].state).count();
    // From unknown to clear, to watch, to leaking.
    assert!(changes <= 3, "the state changes {changes} times");
}

/// The section's reading every 100 ms of the first `frames` frames, and at their end.
fn sections(audio: &Stereo, frames: usize) -> Vec<Ceiling> {
    let mut meter = Meter::new(Config { sample_rate_hz: f64::from(audio.rate), channels: 2 })
        .unwrap_or_else(|e| panic!("{e}"));
    let step = audio.rate as usize / 10;
    let [left, right] = audio.channels();
    let mut all = Vec::new();
    for (left, right) in left[..frames].chunks(step).zip(right[..frames].chunks(step)) {
        meter.process(&[left, right], None, &mut ());
        all.push(meter.readings().ceiling_recent);
    }
    meter.finish(&mut ());
    all.push(meter.readings().ceiling_recent);
    all
}

/// Strokes of a drum machine, a closed form, are copies of one another and end at one height with
/// and without a limiter: none is called limited, alone or under a tone that ducks.
#[test]
fn copies_of_one_stroke_are_not_called_limited() {
    let step = RATE as usize * 10 / 21;
    for (sweep_hz, decay_s) in [(160.0, 0.12), (300.0, 0.2), (80.0, 0.08)] {
        for tone in [0.0, 0.08] {
            let mut audio = Stereo::silence(RATE, 80 * step);
            for n in 0..80 * step {
                let s = (n % step) as f64 / f64::from(RATE);
                // From `50 Hz + sweep_hz` down to 50 Hz with a time constant of 30 ms.
                let turns = 50.0 * s + sweep_hz * 0.03 * (1.0 - (-s / 0.03).exp());
                let kick = (std::f64::consts::TAU * turns).sin() * (-s / decay_s).exp();
                let at = n as f64 / f64::from(RATE);
                let ducked = tone * (s / 0.4).min(1.0) * (std::f64::consts::TAU * 311.0 * at).sin();
                let x = (0.7 * kick + ducked) as f32;
                (audio.left[n], audio.right[n]) = (x, x);
            }
            let read = meter(&audio).readings.leaks.ceiling;
            println!(
                "{sweep_hz} Hz, tone {tone}: {:?} {:?}",
                read.state, read.implied_reduction_db
            );
            assert!(!read.state.loses(), "{sweep_hz} Hz, tone {tone}: {read:?}");
        }
    }
}

//! Bars: where a part strays most, by the bars that the host's transport tells.

use brunt_host::transport::{Changes, Tempo};
use brunt_report::report::{DeviationReport, PassageReport, Report};

use crate::session::{Band, RATE_HZ, Stem, frames, grid, strokes, trio};

/// Bars of four at 120 beats a minute, from the ninth on at 90, from the twelfth on of three:
/// bar 9 starts at 16 s, bar 12 at 24 s; a bar of three at 90 takes 2 s.
fn song() -> Changes {
    let tempo = |bpm, upper| Tempo { bpm, signature: (upper, 4) };
    Changes(vec![(0.0, tempo(120.0, 4)), (16.0, tempo(90.0, 4)), (24.0, tempo(90.0, 3))])
}

/// The trio with a part's strokes up to 28 ms astray either way from `from_s` to `to_s`.
pub fn loose(seconds: f64, part: usize, late_ms: f64, from_s: f64, to_s: f64) -> Vec<Stem> {
    let mut stems = trio(seconds, RATE_HZ);
    let mut times = grid(seconds, late_ms);
    for (k, time) in times.iter_mut().enumerate() {
        if (from_s..to_s).contains(time) {
            *time += [0.028, -0.021, -0.028, 0.021][k % 4];
        }
    }
    stems[part].planes = strokes(&times, seconds, RATE_HZ, 7);
    stems
}

fn timing(report: &Report, part: usize) -> &DeviationReport {
    report.parts[part].timing.as_ref().expect("read")
}

fn worst(report: &Report, part: usize) -> PassageReport {
    *timing(report, part).passages.first().expect("a passage that strays")
}

/// What the song says itself of the bars of a passage: those it is in for more than 50 ms.
fn bars(passage: &PassageReport) -> (Option<i64>, Option<i64>) {
    let bar = |s: f64| Some(i64::from(song().place(s).2) + 1);
    (bar(passage.from_s + 0.05), bar(passage.to_s - 0.05))
}

/// As the engineer counts: behind a change of tempo and one of meter, and within a loop.
#[test]
fn a_worst_passage_has_its_bars() {
    let seconds = 32.0;
    let late = loose(seconds, 1, 12.0, 26.0, 30.0);
    let mut band = Band::new(&late, RATE_HZ);
    band.song = song();
    band.play(&late, 0, frames(seconds));
    band.stop();
    let all = |report: &Report| report.parts.len() == 3 && report.parts[1].timing.is_some();
    let there = |report: &Report| {
        let passages = report.parts.get(1).and_then(|part| part.timing.as_ref());
        let first = passages.and_then(|timing| timing.passages.first());
        // Played faster than it sounds, the song's last bars may be told after its last hits.
        first.is_some_and(|p| p.from_s > 24.0 && (p.from_bar, p.to_bar) == bars(p))
    };
    let report = band.report("bars behind the change", |report| all(report) && there(report));
    let passage = worst(&report, 1);
    // Bar 13 starts at 26 s, bar 15 at 30 s.
    assert!((25.0..27.1).contains(&passage.from_s), "{passage:?}");
    assert_eq!((passage.from_bar, passage.to_bar), bars(&passage), "{passage:?}");
    let (from, to) = (passage.from_bar.expect("told"), passage.to_bar.expect("told"));
    assert!((12..=13).contains(&from) && (14..=15).contains(&to), "{passage:?}");

    // A loop from bar 3 to bar 4, played three times: the bass is tight now, the guitar is not.
    let other = loose(seconds, 2, -7.0, 4.0, 8.0);
    for _ in 0..3 {
        band.play(&other, frames(4.0), frames(8.0));
    }
    band.play(&other, frames(4.0), frames(5.0));
    band.stop();
    let report = band.report("bars of the loop", |report| {
        let guitar = report.parts.get(2).and_then(|part| part.timing.as_ref());
        let first = guitar.and_then(|timing| timing.passages.first());
        first.is_some_and(|p| p.from_s < 8.0 && p.to_bar.is_some())
    });
    let passage = worst(&report, 2);
    assert_eq!((passage.from_bar, passage.to_bar), bars(&passage), "{passage:?}");
    assert!((2..=3).contains(&passage.from_bar.expect("told")), "{passage:?}");
    // The rest of the song was heard in the first pass and keeps its bars.
    let passage = worst(&report, 1);
    assert!(passage.from_s > 24.0, "{passage:?}");
    assert_eq!((passage.from_bar, passage.to_bar), bars(&passage), "{passage:?}");
    for part in 1..3 {
        for passage in &timing(&report, part).passages {
            assert_eq!((passage.from_bar, passage.to_bar), bars(passage), "{passage:?}");
        }
    }
    let advice = &report.leaks.timing.advice;
    assert!(!advice.contains("Tighten") || advice.contains(" at bar"), "{advice}");
}

/// A host that tells its place and no bars: the time alone is said.
#[test]
fn without_bars_there_is_the_time_alone() {
    let seconds = 16.0;
    let stems = loose(seconds, 1, 12.0, 6.0, 10.0);
    let mut band = Band::new(&stems, RATE_HZ);
    band.tells_bars = false;
    band.play(&stems, 0, frames(seconds));
    band.stop();
    let report = band.report("a passage", |report| {
        let bass = report.parts.get(1).and_then(|part| part.timing.as_ref());
        bass.is_some_and(|timing| !timing.passages.is_empty() && timing.shared > 50)
    });
    let passage = worst(&report, 1);
    assert!((5.0..7.1).contains(&passage.from_s), "{passage:?}");
    assert_eq!((passage.from_bar, passage.to_bar), (None, None));
    assert!(!report.leaks.timing.advice.contains("bar "), "{}", report.leaks.timing.advice);
}

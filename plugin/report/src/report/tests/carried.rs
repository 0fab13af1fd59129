//! Everything that the engine reads is carried into the report, or said not to be: with its own name,
//! so that a field which is new in the engine fails here by that name until one of both is done.

use brunt_engine::{Hit, Readings, Thresholds};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::filler::filled;
use super::{CompareReport, HitReport, Report, source};

/// Readings that the report does not carry, each with the reason. A name ends where all below it is meant.
const LEFT_OUT: &[(&str, &str)] = &[
    ("frames", "the source says how long it was"),
    ("time_s", "the source says how long it was"),
    ("loudness.momentary_lufs", "of a moment"),
    ("loudness.short_term_lufs", "of a moment"),
    ("loudness.psr_db", "of a moment"),
    ("punch_recent", "of a moment"),
    ("ceiling_recent", "of a moment"),
    ("balance.before_thirds_dbfs", "the comparison has the difference from it"),
    ("side", "of the input, not of the mix"),
    ("leaks.timing.attack_lost", "of drive alone"),
    ("leaks.clutter.attack", "clutter acts on the mix's hits"),
    ("leaks.clutter.attack_lost", "of drive alone"),
    ("compare.suggested_role", "of the window, which asks"),
    ("compare.alignment.delay_frames", "the same in ms is carried"),
    ("compare.passage_s", "of the window, while it grows"),
    ("compare.contrast_difference_range_db", "of the window"),
];

/// As above, of a hit.
const LEFT_OUT_OF_HITS: &[(&str, &str)] = &[
    ("index", "its place in the list says it"),
    ("frame", "its time says it"),
    ("band_dbfs", "what the estimates are made of"),
];

/// The leaves of `T` that make no difference to what is written of it.
fn lost<T: DeserializeOwned>(written: impl Fn(&T) -> Value) -> Vec<String> {
    let (whole, names) = filled::<T>(None);
    let whole = written(&whole);
    let no_difference = |&k: &usize| written(&filled::<T>(Some(k)).0) == whole;
    (0..names.len()).filter(no_difference).map(|k| names[k].clone()).collect()
}

/// Those of `lost` that are not said to be left out, and of `left_out` that are not lost.
fn unsaid(lost: &[String], left_out: &[(&str, &str)]) -> Vec<String> {
    let below = |name: &str, all: &str| {
        name.strip_prefix(all).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    let said = |name: &&String| !left_out.iter().any(|(all, _)| below(name, all));
    let needed = |(all, _): &&(&str, &str)| !lost.iter().any(|name| below(name, all));
    let carried = left_out.iter().filter(needed).map(|(all, _)| format!("{all} is carried"));
    lost.iter().filter(said).cloned().chain(carried).collect()
}

/// The report's numbers and codes, without its sentences.
fn report(readings: &Readings) -> Value {
    let mut report = Report::new(source(), readings, &[], Thresholds::default());
    report.compare = readings.compare.map(|compare| CompareReport::new(&compare, None));
    let mut json = serde_json::to_value(&report).expect("JSON");
    strip(&mut json);
    json
}

fn strip(json: &mut Value) {
    if let Value::Object(fields) = json {
        fields.retain(|name, _| !matches!(name.as_str(), "says" | "do" | "verdict" | "listener"));
        fields.values_mut().for_each(strip);
    }
}

#[test]
fn every_reading_of_the_engine_is_carried_or_said_to_be_left_out() {
    assert_eq!(unsaid(&lost(report), LEFT_OUT), Vec::<String>::new());
}

#[test]
fn every_number_of_a_hit_is_carried_or_said_to_be_left_out() {
    let written = |hit: &Hit| serde_json::to_value(HitReport::at(hit, 0.0)).expect("JSON");
    assert_eq!(unsaid(&lost(written), LEFT_OUT_OF_HITS), Vec::<String>::new());
}

/// The control: a reading that is new, here one that nothing is said of, is named.
#[test]
fn a_reading_that_is_forgotten_is_named() {
    let all_but_one: Vec<_> =
        LEFT_OUT.iter().filter(|(name, _)| *name != "loudness.psr_db").copied().collect();
    assert_eq!(unsaid(&lost(report), &all_but_one), ["loudness.psr_db"]);
    let one_more: Vec<_> = LEFT_OUT.iter().copied().chain([("punch", "no reason")]).collect();
    assert_eq!(unsaid(&lost(report), &one_more), ["punch is carried"]);
}

/// What the parts show is taken apart by patterns that name every field, so that one that is new does
/// not compile: none of them may leave out what it does not name.
#[test]
fn nothing_is_taken_apart_but_whole() {
    let files = [
        ("leaks.rs", include_str!("../leaks.rs")),
        ("parts.rs", include_str!("../parts.rs")),
        ("readings.rs", include_str!("../readings.rs")),
    ];
    let partly = |text: &str| -> Vec<usize> {
        let found = text.match_indices("..").map(|(at, _)| &text[at + 2..]);
        let pattern = |rest: &&str| {
            let rest = rest.trim_start().trim_start_matches('}');
            rest.starts_with(" =") || rest.starts_with('|')
        };
        found.filter(pattern).map(|rest| text[..text.len() - rest.len()].lines().count()).collect()
    };
    for (name, text) in files {
        assert_eq!(partly(text), Vec::<usize>::new(), "{name}, lines of `.. }} =`");
    }
    assert_eq!(partly("let A { b, .. } = a;"), [1], "the control");
}

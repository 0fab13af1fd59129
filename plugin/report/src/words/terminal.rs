//! Words of the report on a terminal: what the other words do not have already.

use brunt_engine::{InputHealth, LeakKind, Need, State};

use super::number::{UNKNOWN, clock, value};
use super::{input_says, leak_name, span};
use crate::report::{Made, Report};
use crate::sections::Section;

/// Over the leaks.
pub const LEAKS: &str = "Leaks";
/// What the numbers of the leaks are.
pub const LEAKS_ARE: &str = "cost in dB of hit contrast, with its 90 % range; worst first";
/// Over the advice.
pub const TRY: &str = "Try first";
/// Where there is nothing to try.
pub const NOTHING_TO_TRY: &str = "Nothing to fix: every leak is clear.";

/// Our own terms, each with what it means: under the leaks.
pub const TERMS: [(&str, &str); 4] = [
    ("hit contrast", "level of a hit above its surroundings. More is punchier."),
    ("leak", "one of five causes that take hit contrast away."),
    ("cost", "hit contrast that you would recover without that leak."),
    ("clutter", "other rhythms and long notes that fill the space between hits."),
];

/// What goes with the cost where there are parts.
pub const COST_OF_PARTS: &str =
    "cost of timing and guitar gain: attack that the parts would recover.";

/// How many sections are named. Ours: what a person listens to next.
const SECTIONS_NAMED: usize = 3;

/// The sections of the song in one line each, those with the least hit contrast first, and none without
/// hits; no line where the song has but one.
#[must_use]
pub fn sections(sections: &[Section]) -> Vec<String> {
    if sections.len() < 2 {
        return Vec::new();
    }
    let mut order: Vec<(usize, f64)> = sections
        .iter()
        .enumerate()
        .filter_map(|(number, section)| section.contrast_db.map(|db| (number, db)))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    order
        .into_iter()
        .take(SECTIONS_NAMED)
        .map(|(number, db)| {
            let section = &sections[number];
            format!(
                "{} to {}: hit contrast {}, {}",
                clock(section.from_s),
                clock(section.to_s),
                value(Some(db), "dB"),
                match section.loudness_lufs {
                    Some(lufs) => value(Some(lufs), "LUFS"),
                    None => format!("loudness {UNKNOWN}"),
                }
            )
        })
        .collect()
}

/// How many sections there are besides those that are named; `None` where there are no more, or none is
/// named.
#[must_use]
pub fn more_sections(sections: &[Section]) -> Option<String> {
    let hit = sections.iter().filter(|section| section.contrast_db.is_some()).count();
    if sections.len() < 2 || hit == 0 {
        return None;
    }
    let of = |count: usize, what: &str| {
        let s = if count == 1 { "" } else { "s" };
        (count > 0).then(|| format!("{count} more section{s}{what}"))
    };
    let more = of(hit.saturating_sub(SECTIONS_NAMED), ", with more contrast");
    let rest = of(sections.len() - hit, " without hits");
    match (more, rest) {
        (Some(more), Some(rest)) => Some(format!("{more}; {rest}")),
        (more, rest) => more.or(rest),
    }
}

/// What a leak lacks that no mix can show, as short as it goes; `None` for what takes a sentence.
#[must_use]
pub const fn needs(need: &Need) -> Option<&'static str> {
    match need {
        Need::Parts => Some("needs the parts: --part, or Brunt on each part's bus"),
        Need::GuitarPart => Some("needs the guitars: --part, or Brunt on their bus"),
        _ => None,
    }
}

/// What to add to the command so that more leaks are judged, in one line; `None` where nothing is missing
/// that stems would show. `needs`: what the unknown leaks lack.
#[must_use]
pub fn next(needs: &[&Need]) -> Option<&'static str> {
    if needs.contains(&&Need::Parts) {
        Some("To judge all five add stems: --part drums=FILE --part guitars=FILE")
    } else if needs.contains(&&Need::GuitarPart) {
        Some("To judge guitar gain, add the guitars' stem: --part guitars=FILE")
    } else {
        None
    }
}

/// What to do with two takes of a riff whose shared attacks lose enough for a leak. `says`: how they lie
/// against each other.
#[must_use]
pub fn double_next(says: &str) -> String {
    format!("Bring these two together. {says}")
}

/// What to add where mids are clear, and weaker than in most records all the same.
pub const REFERENCE_NEXT: &str = "Mids are on the weak side: compare with --reference FILE";

/// Whether to say so. `percentile`: share of the records whose mids are less weak; `over_reference_db`: known
/// with a reference.
#[must_use]
pub fn wants_reference(
    mids: State,
    percentile: Option<f64>,
    over_reference_db: Option<f64>,
) -> bool {
    let weak = percentile.is_some_and(|percentile| percentile >= 50.0);
    mids == State::Clear && weak && over_reference_db.is_none()
}

/// Name of that line.
pub const NEXT: &str = "Next";

/// The limits that the states follow. `besides`: whether a leak has a worse state than its cost gives it.
#[must_use]
pub fn limits(made: &Made, besides: bool) -> String {
    let more = if besides { ", or for what the leak's own text says" } else { "" };
    format!(
        "watch from {}, leaking from {} of cost{more}",
        value(Some(made.watch_db), "dB"),
        value(Some(made.leaking_db), "dB")
    )
}

/// Each file with samples that are no audio, in a line; none where every file is whole.
#[must_use]
pub fn damaged(report: &Report) -> Vec<String> {
    let named =
        |file: &str, input: &InputHealth| input_says(input).map(|says| format!("{file}: {says}"));
    let mix = named(&report.mix.file, &report.input);
    let other = report.compare.as_ref().and_then(|other| {
        named(other.file.as_deref().unwrap_or(&other.role), other.input.as_ref()?)
    });
    let parts = report.parts.iter().filter_map(|part| named(&part.file, part.input.as_ref()?));
    mix.into_iter().chain(other).chain(parts).collect()
}

/// Where a hit's lowest and highest tenths lie, as it goes behind a median.
#[must_use]
pub fn percentiles(low: f64, high: f64) -> String {
    format!("{} {}", super::PERCENTILES, span(low, high, "dB"))
}

/// What `--fail-on` could not judge; `None` where every leak is known.
#[must_use]
pub fn unjudged(states: impl Fn(LeakKind) -> State) -> Option<String> {
    let unknown: Vec<String> = LeakKind::ALL
        .into_iter()
        .filter(|&kind| states(kind) == State::Unknown)
        .map(|kind| leak_name(kind).to_lowercase())
        .collect();
    (!unknown.is_empty()).then(|| unknown.join(", "))
}

/// The warning that `--fail-on` passed leaks that nothing judged.
#[must_use]
pub fn passed_unjudged(unknown: &str) -> String {
    format!(
        "not judged by --fail-on, since unknown: {unknown}. Add --fail-on-unknown to fail on that."
    )
}

/// Why `--fail-on-unknown` failed.
#[must_use]
pub fn failed_unjudged(unknown: &str) -> String {
    format!("--fail-on-unknown: not known: {unknown}")
}

/// That a file was written.
#[must_use]
pub fn written(path: &str) -> String {
    format!("Written: {path}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_section_with_the_least_contrast_comes_first() {
        let section = |from_s, contrast_db| Section {
            from_s,
            to_s: from_s + 20.0,
            loudness_lufs: Some(-10.0),
            contrast_db,
        };
        let song = [
            section(0.0, Some(7.0)),
            section(20.0, Some(3.2)),
            section(40.0, None),
            section(60.0, Some(5.0)),
            section(80.0, Some(8.0)),
            Section { loudness_lufs: None, ..section(100.0, Some(2.0)) },
        ];
        let lines = sections(&song);
        assert_eq!(lines.len(), 3);
        assert_eq!(lines[0], "1:40 to 2:00: hit contrast 2.0 dB, loudness unknown");
        assert_eq!(lines[1], "0:20 to 0:40: hit contrast 3.2 dB, -10.0 LUFS");
        assert!(lines[2].starts_with("1:00 to 1:20"), "{lines:?}");
        assert!(sections(&song[..1]).is_empty(), "one section is the song");
        for (sections, more) in [
            (&song[..], Some("2 more sections, with more contrast; 1 more section without hits")),
            (&song[3..], None),
            (&song[1..4], Some("1 more section without hits")),
            (&song[2..3], None),
        ] {
            assert_eq!(more_sections(sections).as_deref(), more);
        }
    }

    #[test]
    fn what_to_add_next_takes_one_line_and_only_where_something_lacks() {
        use crate::words::ADVICE_CHARS;
        let hits = Need::Hits { have: 1, want: 16 };
        let all = next(&[&hits, &Need::GuitarPart, &Need::Parts]).expect("stems");
        let guitars = next(&[&Need::GuitarPart]).expect("the guitars'");
        assert!(all.contains("drums=") && all.contains("guitars=") && !guitars.contains("drums="));
        assert!([all, guitars].iter().all(|line| line.chars().count() <= ADVICE_CHARS));
        assert_eq!(next(&[&hits]), None);
    }

    #[test]
    fn a_reference_is_asked_for_where_mids_are_weak_and_clear() {
        assert!(wants_reference(State::Clear, Some(66.0), None));
        assert!(!wants_reference(State::Clear, Some(66.0), Some(0.2)), "there is one");
        assert!(!wants_reference(State::Clear, Some(30.0), None));
        assert!(!wants_reference(State::Watch, Some(90.0), None), "said by the leak");
    }

    #[test]
    fn what_was_not_judged_is_named() {
        let states = |kind| if kind == LeakKind::Mids { State::Clear } else { State::Unknown };
        let unknown = unjudged(states).expect("four");
        assert_eq!(unknown, "limiting, timing, clutter, guitar gain");
        assert!(passed_unjudged(&unknown).contains("--fail-on-unknown"));
        assert_eq!(unjudged(|_| State::Clear), None);
    }
}

//! What holds for all sentences: none has more than 25 words, so that it is read at a glance.

use brunt_engine::{
    Ceiling, CeilingKind, Cost, LeakKind, Leaks, Loudness, Mids, Need, PartLeak, Punch, Readings,
    Shape, State,
};

use super::*;
use crate::report::CompareReport;

/// Most words of a sentence on screen. Ours.
const MOST_WORDS: usize = 25;

/// The sentences of a text. A stop inside of a number ends none.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(". ").flat_map(|part| part.split_inclusive("? "))
}

/// The words of a sentence, numbers and units among them.
fn words(sentence: &str) -> usize {
    sentence.split_whitespace().filter(|word| word.contains(char::is_alphanumeric)).count()
}

fn short(text: &str) {
    for sentence in sentences(text) {
        let words = words(sentence);
        assert!(words <= MOST_WORDS, "{words} words: {sentence}");
    }
}

/// Every state, need, kind and shape, with every number known.
pub(super) fn all_leaks() -> Vec<Leaks> {
    let needs = [
        Need::Nothing,
        Need::Signal,
        Need::Hits { have: 3, want: 16 },
        Need::Programme { have_s: 1.0, want_s: 10.0 },
        Need::Evidence,
        Need::Alike,
        Need::SampleRate,
        Need::Parts,
        Need::GuitarPart,
        Need::Mix,
        Need::Shared { have: 3, want: 12 },
        Need::Notes { have: 1, want: 8 },
    ];
    let kinds = [CeilingKind::None, CeilingKind::Limiter, CeilingKind::Clipper];
    let cost = Some(Cost { db: 12.3, low_db: 10.2, high_db: 14.4 });
    let mut all = Vec::new();
    for state in [State::Unknown, State::Clear, State::Watch, State::Leaking] {
        for need in needs {
            for (kind, shape) in kinds.into_iter().cycle().zip(Shape::ALL) {
                let part = PartLeak { state, need, cost, ..PartLeak::default() };
                let ceiling = Ceiling {
                    state,
                    need,
                    cost,
                    kind: Some(kind),
                    implied_reduction_db: Some(2.3),
                    implied_reduction_p90_db: Some(12.3),
                    implied_reduction_max_db: Some(14.5),
                    implied_reduction_range_db: Some((1.2, 3.4)),
                    at_least: need == Need::Evidence,
                    unlike: Some(0.8),
                    ceiling_dbtp: Some(-1.0),
                    hits_at_ceiling: Some(149),
                    measured: state == State::Leaking,
                };
                // Over and under the curve.
                for mid_deficit_db in [-12.0, 12.0] {
                    let mids = Mids {
                        state,
                        need,
                        cost,
                        mid_deficit_db: Some(mid_deficit_db),
                        weakness_db: Some(4.0),
                        carry_db: Some(2.0),
                        shape: Some(shape),
                        ..Mids::default()
                    };
                    all.push(Leaks { ceiling, timing: part, clutter: part, drive: part, mids });
                }
            }
        }
    }
    all
}

#[test]
fn no_sentence_about_a_leak_has_more_than_25_words() {
    let loudness = Loudness { integrated_lufs: Some(-9.9), ..Loudness::default() };
    let punch = Punch {
        contrast_db: Some(4.7),
        contrast_p10_db: Some(2.0),
        contrast_p90_db: Some(9.6),
        hits: 1_149,
    };
    for leaks in all_leaks() {
        for kind in LeakKind::ALL {
            short(&says(&leaks, kind));
            short(&advice(&leaks, kind));
        }
        short(&verdict(&Readings { leaks, loudness, punch, ..Readings::default() }));
    }
}

#[test]
fn no_definition_and_no_caption_has_more_than_25_words() {
    Term::ALL.into_iter().for_each(|term| short(definition(term)));
    for kind in LeakKind::ALL {
        short(leak_meaning(kind));
    }
    page::method(Some("1.2.3"), 1.0, 2.0).iter().for_each(|paragraph| short(paragraph));
    short(&page::leaks_intro(1.0, 2.0));
    short(&page::hits_caption(20.0, 5.0, 6.0, Some(0.4), Some(24.0)));
    short(&page::history_caption(0.4, true));
    for caption in [page::BALANCE_CAPTION, page::PARTS_CAPTION, page::SECTIONS_CAPTION] {
        short(caption);
    }
    caution().into_iter().for_each(short);
}

#[test]
fn no_comparison_has_more_than_25_words() {
    for (role, limiter_rests, equalised) in
        [("before", Some(false), None), ("before", None, Some(true)), ("reference", None, None)]
    {
        short(&compare_says(&CompareReport {
            role: role.to_owned(),
            relation: "found".to_owned(),
            delay_ms: Some(-12.34),
            gain_db: Some(9.2),
            limiter_rests,
            equalised,
            lost_db_median: Some(-2.0),
            reduction_db_median: Some(12.3),
            reduction_db_max: Some(14.5),
            ..CompareReport::default()
        }));
    }
}

#[test]
fn a_long_sentence_is_found() {
    let words = "word ".repeat(MOST_WORDS);
    short(&words);
    short(&format!("{words}. {words}."));
    assert!(std::panic::catch_unwind(|| short(&format!("{words}more"))).is_err());
}

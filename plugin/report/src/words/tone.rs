//! The tone of a mix: its shape, the evidence for weak mids, and what to try.

use brunt_engine::{BesideReference, Mids, Shape, State};

use super::advice::step;
use super::evidence::need;
use super::number::value;

/// What the curve cannot know: the standard deviation of 131 records with drums (DEVELOPERS.md).
const RECORDS: &str = "records differ by some 5 dB";

/// The word for the shape of a tone; the JSON uses the same.
#[must_use]
pub const fn shape_word(shape: Shape) -> &'static str {
    match shape {
        Shape::Even => "none",
        Shape::Scooped => "scooped",
        Shape::BoostedExtremes => "boosted lows and highs",
        Shape::Dark => "dark",
        Shape::Bright => "bright",
    }
}

pub(super) fn says(m: &Mids) -> String {
    if m.state == State::Unknown {
        return need(&m.need);
    }
    let Some(deficit) = m.mid_deficit_db else { return need(&m.need) };
    let side = if deficit >= 0.0 { "under" } else { "over" };
    let curve =
        format!("{} {side} the published long-term curve", value(Some(deficit.abs()), "dB"));
    if let Some(beside) = &m.beside {
        return beside_reference(m, beside, &curve);
    }
    let opening = match m.state {
        State::Unknown | State::Clear => "Mids stand up to the lows and highs",
        State::Watch => "Mids are a little weak beside the lows and highs",
        State::Leaking => "Mids are weak beside the lows and highs",
    };
    let shape = ending(m.shape, ["dark", "bright"]);
    let over = match m.weakness_db {
        // What the state goes by.
        Some(weakness) if m.state != State::Clear => {
            format!(", which stand {} over them ({RECORDS})", value(Some(weakness), "dB"))
        }
        _ => String::new(),
    };
    let but = if m.state == State::Clear && deficit >= 1.0 { ", though" } else { ":" };
    format!("{opening}{over}{but} {curve}{shape}.")
}

fn beside_reference(m: &Mids, beside: &BesideReference, curve: &str) -> String {
    let opening = match m.state {
        State::Unknown | State::Clear => "Mids stand up to the lows and highs as in the reference",
        State::Watch => "Mids are a little weaker than the reference's",
        State::Leaking => "Mids are weaker than the reference's",
    };
    let shape = ending(m.shape, ["darker", "brighter"]);
    let further = further(beside);
    format!(
        "{opening}: lows and highs stand {further} over them than there{shape}. They are {curve}."
    )
}

/// The shape as the end of a sentence, with the words for a mix that falls and that rises.
fn ending(shape: Option<Shape>, [dark, bright]: [&str; 2]) -> String {
    match shape {
        Some(Shape::Scooped) => "; a wide dip between 400 Hz and 1.5 kHz".to_owned(),
        Some(Shape::BoostedExtremes) => {
            "; lows near 60 Hz and highs near 12 kHz stand out".to_owned()
        }
        Some(Shape::Dark) => format!("; the mix is {dark} as a whole"),
        Some(Shape::Bright) => format!("; the mix is {bright} as a whole"),
        Some(Shape::Even) | None => String::new(),
    }
}

/// How much further lows and highs stand over the mids than in a reference, or less far.
#[must_use]
pub fn further(beside: &BesideReference) -> String {
    let db = beside.weakness_db;
    // As shown: no "0.0 dB less far".
    let word = if (db * 10.0).round() < 0.0 { "less far" } else { "further" };
    format!("{} {word}", value(Some(db.abs()), "dB"))
}

pub(super) fn advice(m: &Mids) -> String {
    let deficit = m.beside.map(|beside| beside.deficit_db).or(m.mid_deficit_db).unwrap_or(1.0);
    match m.shape {
        // Half the deficit and no more than 3 dB: the curve is a mean of many songs, no target.
        Some(Shape::BoostedExtremes) => {
            let step = step((deficit / 2.0).min(3.0));
            format!("Lower the shelves near 60 Hz and 12 kHz by {step}: hits should carry.")
        }
        Some(Shape::Dark) => {
            "First even out the lows: less below 120 Hz, then look at the mids.".to_owned()
        }
        Some(Shape::Bright) => {
            "First even out the highs: less above 6 kHz, then look at the mids.".to_owned()
        }
        // Common practice, no source: a small broad lift near 700 Hz gives punch back.
        Some(Shape::Scooped | Shape::Even) | None => {
            let step = step((deficit / 2.0).min(3.0));
            format!("Lift {step} broadly near 700 Hz: hits should carry on small speakers.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beside a reference the sentence says what differs from it, and what to take out is that.
    #[test]
    fn a_reference_is_what_the_words_are_about() {
        let mids = |state, weakness_db, deficit_db| Mids {
            state,
            mid_deficit_db: Some(8.0),
            weakness_db: Some(6.0),
            beside: Some(BesideReference { weakness_db, deficit_db }),
            shape: Some(Shape::BoostedExtremes),
            ..Mids::default()
        };
        let leaking = mids(State::Leaking, 3.1, 4.0);
        assert!(
            says(&leaking).starts_with(
                "Mids are weaker than the reference's: lows and highs stand 3.1 dB further over them \
                 than there; lows near 60 Hz"
            ),
            "{}",
            says(&leaking)
        );
        assert!(advice(&leaking).contains("by 2.0 dB"), "{}", advice(&leaking));
        let clear = says(&mids(State::Clear, -0.04, 0.0));
        assert!(
            clear.contains("as in the reference: lows and highs stand 0.0 dB further"),
            "{clear}"
        );
        let clear = says(&mids(State::Clear, -2.0, 0.0));
        assert!(clear.contains("2.0 dB less far over them than there"), "{clear}");
        let alone = says(&Mids { beside: None, ..leaking });
        assert!(alone.contains("6.0 dB over them (records differ"), "{alone}");
    }
}

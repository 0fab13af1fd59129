//! The tone of a mix: its shape, the evidence for weak mids, and what to try.

use brunt_engine::{BesideReference, Mids, Shape, State};

use super::need::need;
use super::number::{step, value};
use super::records::mids_among_records;

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
    let deficit = mid_deficit(deficit);
    // The cost is that of full-range speakers.
    let small = small_speakers(m).map(|small| format!(" {small}")).unwrap_or_default();
    if let Some(beside) = &m.beside {
        return format!("{} {deficit}{small}", beside_reference(m, beside));
    }
    let opening = match m.state {
        // Weaker than in most records, and not in so many that it would be a word of warning.
        State::Unknown | State::Clear
            if m.percentile.is_some_and(|percentile| percentile >= 50.0) =>
        {
            "Mids are not unusually weak"
        }
        State::Unknown | State::Clear => "Mids hold up",
        State::Watch => "Mids are slightly weak",
        State::Leaking => "Mids are weak",
    };
    let shape = shape_says(m.shape);
    // What the state goes by.
    let among = m.percentile.map(|percentile| format!(": {}", mids_among_records(percentile)));
    let among = among.unwrap_or_default();
    format!("{opening}{among}. {deficit}{shape}{small}")
}

/// The mid deficit in a sentence, with what gives one of that size: it is no distance from the curve.
#[must_use]
pub fn mid_deficit(db: f64) -> String {
    let shown = value(Some(db), "dB");
    // As shown: nothing gives 0.0 dB.
    match (db * 10.0).round() {
        tenths if tenths > 0.0 => {
            format!("Mid deficit {shown}, as a wide dip that deep near 700 Hz would give.")
        }
        tenths if tenths < 0.0 => {
            let high = value(Some(-db), "dB");
            format!("Mid deficit {shown}, as a wide boost of {high} near 700 Hz would give.")
        }
        _ => format!("Mid deficit {shown}."),
    }
}

/// The shape as a sentence behind another one; nothing where it has no name.
fn shape_says(shape: Option<Shape>) -> &'static str {
    match shape {
        Some(Shape::Scooped) => " A wide dip lies between 400 Hz and 1.5 kHz.",
        Some(Shape::BoostedExtremes) => " Lows near 60 Hz and highs near 12 kHz are boosted.",
        Some(Shape::Dark) => " The mix is dark overall.",
        Some(Shape::Bright) => " The mix is bright overall.",
        Some(Shape::Even) | None => "",
    }
}

/// What weak mids lose small speakers, dB, where that is what they are shown with: where the mix's hits lose
/// less over full-range ones. `None` elsewhere.
#[must_use]
pub fn small_speakers_db(state: State, carry_db: Option<f64>, cost_db: Option<f64>) -> Option<f64> {
    lost_by_small_speakers(state, carry_db).filter(|&db| db > cost_db.unwrap_or(0.0))
}

/// What that number is a loss of.
pub const ON_SMALL_SPEAKERS: &str = "on small speakers";

/// The hits' `cost` behind what small speakers lose, where the mids are shown with that; else the cost alone.
#[must_use]
pub fn behind_small_speakers(small_db: Option<f64>, cost: String) -> String {
    match small_db {
        Some(db) => format!("{} {ON_SMALL_SPEAKERS}; hits {cost}", value(Some(db), "dB")),
        None => cost,
    }
}

/// What weak mids lose small speakers, dB; `None` where it is nothing, or the mids are not weak.
fn lost_by_small_speakers(state: State, carry_db: Option<f64>) -> Option<f64> {
    carry_db.filter(|&db| state.loses() && db >= 0.05)
}

/// What small speakers lose by weak mids, of which full-range ones lose little; `None` where it is nothing.
#[must_use]
pub fn small_speakers(m: &Mids) -> Option<String> {
    let db = lost_by_small_speakers(m.state, m.carry_db)?;
    Some(format!("Small speakers lose {} of level.", value(Some(db), "dB")))
}

fn beside_reference(m: &Mids, beside: &BesideReference) -> String {
    let opening = match m.state {
        State::Unknown | State::Clear => "Mids hold up as in the reference",
        State::Watch => "Mids are a little weaker than the reference's",
        State::Leaking => "Mids are weaker than the reference's",
    };
    let shape = ending(m.shape);
    let further = further(beside);
    format!("{opening}: lows and highs exceed them by {further} than there{shape}.")
}

/// The shape of the difference as the end of a sentence.
fn ending(shape: Option<Shape>) -> &'static str {
    match shape {
        Some(Shape::Scooped) => ", with a wide dip between 400 Hz and 1.5 kHz",
        Some(Shape::BoostedExtremes) => ", with boosted lows near 60 Hz and highs near 12 kHz",
        Some(Shape::Dark) => "; the mix is darker overall",
        Some(Shape::Bright) => "; the mix is brighter overall",
        Some(Shape::Even) | None => "",
    }
}

/// By how much more lows and highs exceed the mids than in a reference, or by how much less.
#[must_use]
pub fn further(beside: &BesideReference) -> String {
    let db = beside.weakness_db;
    // As shown: no "0.0 dB less".
    let word = if (db * 10.0).round() < 0.0 { "less" } else { "more" };
    format!("{} {word}", value(Some(db.abs()), "dB"))
}

pub(super) fn advice(m: &Mids) -> String {
    let deficit = m.beside.map(|beside| beside.deficit_db).or(m.mid_deficit_db).unwrap_or(1.0);
    match m.shape {
        // Half the deficit and no more than 3 dB: the curve is a mean of many songs, no target.
        Some(Shape::BoostedExtremes) => {
            let step = step((deficit / 2.0).min(3.0));
            format!("Cut the shelves at 60 Hz and 12 kHz by {step}: hits carry further.")
        }
        Some(Shape::Dark) => "First cut the lows below 120 Hz, then check the mids.".to_owned(),
        Some(Shape::Bright) => "First cut the highs above 6 kHz, then check the mids.".to_owned(),
        // Common practice, no source: a small broad lift near 700 Hz gives punch back.
        Some(Shape::Scooped | Shape::Even) | None => {
            let step = step((deficit / 2.0).min(3.0));
            format!("Boost {step}, wide bell near 700 Hz, for small speakers.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against a reference the sentence says what differs from it, and what to take out is that.
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
                "Mids are weaker than the reference's: lows and highs exceed them by 3.1 dB more than \
                 there, with boosted lows near 60 Hz"
            ),
            "{}",
            says(&leaking)
        );
        assert!(advice(&leaking).contains("by 2.0 dB"), "{}", advice(&leaking));
        let clear = says(&mids(State::Clear, -0.04, 0.0));
        assert!(
            clear.contains("as in the reference: lows and highs exceed them by 0.0 dB more"),
            "{clear}"
        );
        let clear = says(&mids(State::Clear, -2.0, 0.0));
        assert!(clear.contains("2.0 dB less than there"), "{clear}");
        let alone = says(&Mids { beside: None, percentile: Some(97.0), ..leaking });
        let among = "Mids are weak: weaker against the lows and highs than in 97 % of ";
        assert!(alone.starts_with(among), "{alone}");
        let deficit = ". Mid deficit 8.0 dB, as a wide dip that deep near 700 Hz would give.";
        assert!(says(&leaking).contains(deficit), "{}", says(&leaking));
        let shape = format!("{deficit} Lows near 60 Hz and highs near 12 kHz are boosted.");
        assert!(alone.ends_with(&shape), "{alone}");
        assert_eq!(mid_deficit(-0.04), "Mid deficit 0.0 dB.");
        let boost = "Mid deficit -2.0 dB, as a wide boost of 2.0 dB near 700 Hz would give.";
        assert_eq!(mid_deficit(-2.0), boost);
    }

    /// Shown with what small speakers lose: what leaks, where the hits over full-range speakers lose less.
    #[test]
    fn weak_mids_cost_on_small_speakers_what_they_do_not_elsewhere() {
        let shown = |state, hits| small_speakers_db(state, Some(2.0), hits);
        assert_eq!(shown(State::Leaking, Some(0.0)), Some(2.0));
        assert_eq!(shown(State::Watch, None), Some(2.0));
        assert_eq!(shown(State::Leaking, Some(2.5)), None);
        assert_eq!(shown(State::Clear, Some(0.0)), None);
        assert_eq!(small_speakers_db(State::Leaking, Some(0.0), Some(0.0)), None);
    }
}

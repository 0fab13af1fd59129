//! The tone of a mix: its shape, the evidence for weak mids, and what to try.

use brunt_engine::{Mids, Shape, State};

use super::advice::step;
use super::evidence::need;
use super::number::value;

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
    let size = value(Some(deficit.abs()), "dB");
    let opening = match m.state {
        State::Unknown | State::Clear => "Mids stand up to the lows and highs",
        State::Watch => "Mids are a little weak beside the lows and highs",
        State::Leaking => "Mids are weak beside the lows and highs",
    };
    let shape = match m.shape {
        Some(Shape::Scooped) => "; a wide dip between 400 Hz and 1.5 kHz",
        Some(Shape::BoostedExtremes) => "; lows near 60 Hz and highs near 12 kHz stand out",
        Some(Shape::Dark) => "; the mix is dark as a whole",
        Some(Shape::Bright) => "; the mix is bright as a whole",
        Some(Shape::Even) | None => "",
    };
    let over = match m.weakness_db {
        // What the state goes by.
        Some(weakness) if m.state != State::Clear => {
            format!(", which stand {} over them", value(Some(weakness), "dB"))
        }
        _ => String::new(),
    };
    let but = if m.state == State::Clear && deficit >= 1.0 { ", though" } else { ":" };
    format!("{opening}{over}{but} {size} {side} the published long-term curve{shape}.")
}

pub(super) fn advice(m: &Mids) -> String {
    let deficit = m.mid_deficit_db.unwrap_or(1.0);
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

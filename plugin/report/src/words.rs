//! Every sentence that a user sees about a measurement. The window's own words stand in the plug-in.
//!
//! Sentences are plain, short and carry a unit with every number. What is not known is said to be
//! unknown, with what is missing; it is never passed over.

mod advice;
mod buried;
mod caution;
mod clutter;
mod compare;
mod drive;
pub mod edits;
mod evidence;
mod history;
mod line;
pub mod links;
pub mod listen;
mod listener;
mod need;
mod number;
pub mod page;
pub mod records;
pub mod roles;
pub mod shape;
pub mod terminal;
mod terms;
mod timing;
mod tone;
mod verdict;

pub use advice::{ADVICE_CHARS, advice};
pub use buried::{fewer_hits, hits_found, if_turned_down};
pub use caution::caution;
pub use clutter::{clutter_advice, clutter_says};
pub(crate) use compare::part_of_hits;
pub use compare::{compare_says, compare_stands, relation_word, role_word};
pub use drive::{drive_advice, drive_says, takes_say};
pub use evidence::{
    EASE_THE_DRUMS, ESTIMATED, MEASURED, cost, drums_lose, ease_the_drums, heard_alone, says,
};
pub use history::{changes, not_aligned};
pub use line::{differing_names, is_file, part_name};
pub use links::parts_say;
pub use listener::{listener, vanished};
pub use need::{GATE_LUFS, need};
pub use number::{UNKNOWN, clock, count, input_says, seconds, signed, span, stream, value};
pub use roles::{role_doubt, role_says};
pub use terms::{Term, definition, term_label, term_unit};
pub use timing::{double_says, passage_says, timing_advice, timing_says};
pub use tone::{
    ON_SMALL_SPEAKERS, behind_small_speakers, further, mid_deficit, shape_word, small_speakers,
    small_speakers_db,
};
pub use verdict::{short_verdict, verdict, verdict_of};

use brunt_engine::{CeilingKind, LeakKind, State};

/// The name of the program.
pub const NAME: &str = "Brunt";

/// Name of a leak, as a title.
#[must_use]
pub const fn leak_name(kind: LeakKind) -> &'static str {
    match kind {
        LeakKind::Ceiling => "Limiting",
        LeakKind::Timing => "Timing",
        LeakKind::Clutter => "Clutter",
        LeakKind::Drive => "Guitar gain",
        LeakKind::Mids => "Mids",
    }
}

/// The code of a leak in the JSON.
#[must_use]
pub const fn leak_code(kind: LeakKind) -> &'static str {
    match kind {
        LeakKind::Ceiling => "ceiling",
        LeakKind::Timing => "timing",
        LeakKind::Clutter => "clutter",
        LeakKind::Drive => "drive",
        LeakKind::Mids => "mids",
    }
}

/// Before a range that leaves out the lowest and the highest tenth.
pub const PERCENTILES: &str = "10th to 90th percentile";

/// What a leak is, in a few words.
#[must_use]
pub const fn leak_meaning(kind: LeakKind) -> &'static str {
    match kind {
        LeakKind::Ceiling => "a limiter or clipper flattens the hits",
        LeakKind::Timing => "parts that should hit together do not",
        LeakKind::Clutter => "other rhythms and long notes fill the space between hits",
        LeakKind::Drive => "too much gain on distorted guitars",
        LeakKind::Mids => "weak mids: hits get lost on small speakers",
    }
}

/// The word for a state; the JSON uses the same.
#[must_use]
pub const fn state_word(state: State) -> &'static str {
    match state {
        State::Unknown => "unknown",
        State::Clear => "clear",
        State::Watch => "watch",
        State::Leaking => "leaking",
    }
}

/// The word for what made a ceiling; the JSON uses the same.
#[must_use]
pub const fn kind_word(kind: CeilingKind) -> &'static str {
    match kind {
        CeilingKind::None => "none",
        CeilingKind::Limiter => "limiter",
        CeilingKind::Clipper => "clipper",
    }
}

#[cfg(test)]
mod tests;

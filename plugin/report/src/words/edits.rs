//! Words of what to move.

use super::number::{signed, value};

/// Name of the track of markers.
pub const TRACK: &str = "Brunt: notes to move";
/// Title of the list in the report.
pub const TITLE: &str = "What to edit";
/// Heads of its columns.
pub const COLUMNS: [&str; 5] = ["Part", "At", "Bar", "Move", "Costs this hit"];
/// Saves the list.
pub const SAVE_CSV: &str = "Save as CSV";
/// Saves the markers.
pub const SAVE_MIDI: &str = "Save as MIDI markers";
/// A note behind its hit.
pub const LATE: &str = "late";
/// A note ahead of it.
pub const EARLY: &str = "early";

/// How a note lies.
#[must_use]
pub fn lies(late_ms: f64) -> &'static str {
    if late_ms < 0.0 { EARLY } else { LATE }
}

/// One marker: the part, how far its note is to move, ms, on which side it lies, and what it costs.
#[must_use]
pub fn marker(part: &str, move_ms: f64, lies: &str, cost_db: Option<f64>) -> String {
    let lies = format!("{} {lies}", value(Some(move_ms.abs()), "ms"));
    let moved = signed(Some(move_ms), "ms");
    match cost_db {
        Some(db) => format!("{part}: {lies}, move {moved}, costs {}", value(Some(db), "dB")),
        None => format!("{part}: {lies}, move {moved}"),
    }
}

/// Under the list.
#[must_use]
pub fn caption(shown: usize, all: usize) -> String {
    format!(
        "The {shown} costliest of {all} notes more than {} off their hit: how far to move each, and the \
         hit contrast that its hit loses to the part's looseness. Load the markers into any \
         workstation, at the start of the song.",
        value(Some(brunt_engine::parts::timing::TELLABLE_MS), "ms")
    )
}

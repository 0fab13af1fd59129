//! Words of what to move.

use super::number::{signed, value};
use crate::report::EditReport;

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

/// One marker.
#[must_use]
pub fn marker(edit: &EditReport) -> String {
    let lies = format!("{} {}", value(Some(edit.move_ms.abs()), "ms"), edit.lies);
    let moved = signed(Some(edit.move_ms), "ms");
    match edit.cost_db {
        Some(db) => {
            format!("{}: {lies}, move {moved}, costs {}", edit.part, value(Some(db), "dB"))
        }
        None => format!("{}: {lies}, move {moved}", edit.part),
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

//! What to move: each note that lies off the hit that it belongs to, and what that costs.

use super::against::{Against, first_frame, powers};
use super::beats::{Beats, reference};
use super::deviation::TELLABLE_MS;
use super::moves::{Moving, Without, version};
use crate::parts::PartTrack;

/// One note to move.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Edit {
    /// Index of its track.
    pub part: usize,
    /// Where its onset lies, s, on the timeline of the tracks.
    pub time_s: f64,
    /// How much later than the reference's hit it comes, ms; negative: earlier. Moving it the other
    /// way by as much puts it there.
    pub late_ms: f64,
    /// Hit contrast that this hit loses to the part's looseness, dB: what it gains where the part's
    /// notes alone are placed with the reference. Negative where it would lose.
    pub cost_db: f64,
}

/// The notes of all tracks that lie further than [`TELLABLE_MS`] from the hit that they belong to, the
/// dearest first; of one cost the furthest. Empty without a reference. Allocates; not for the
/// audio thread.
#[must_use]
pub fn edits(tracks: &[PartTrack]) -> Vec<Edit> {
    let Some(reference) = reference(tracks) else { return Vec::new() };
    let first = first_frame(tracks);
    let beats = Beats::new(tracks, reference);
    let hits: Vec<(f64, bool)> = beats.cells().map(|cell| (cell, true)).collect();
    let mut moving: Vec<Moving> = tracks
        .iter()
        .map(|track| Moving { powers: powers(track, first), ..Moving::default() })
        .collect();
    for (index, track) in tracks.iter().enumerate() {
        if index != reference
            && let Against::Strays(_, events) = beats.against(track, first)
        {
            moving[index].events = events;
        }
    }
    let now = version(&moving, &hits, Without::Nothing, |_| true).contrasts_db();
    let mut edits = Vec::new();
    for (part, track) in tracks.iter().enumerate() {
        if moving[part].events.is_empty() {
            continue;
        }
        let placed = version(&moving, &hits, Without::Both, |other| other == part);
        let placed = placed.contrasts_db();
        let start_s = first as f64 / track.sample_rate_hz;
        edits.extend(moving[part].events.iter().filter_map(|event| {
            let late_ms = event.late * track.cell_s() * 1e3;
            (late_ms.abs() > TELLABLE_MS).then(|| Edit {
                part,
                time_s: start_s + event.cell * track.cell_s(),
                late_ms,
                cost_db: placed[event.hit] - now[event.hit],
            })
        }));
    }
    edits.sort_by(|a, b| {
        let furthest = b.late_ms.abs().total_cmp(&a.late_ms.abs());
        b.cost_db.total_cmp(&a.cost_db).then(furthest).then(a.time_s.total_cmp(&b.time_s))
    });
    edits
}

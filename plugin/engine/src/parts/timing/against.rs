//! How one track lies against strokes: what [`Beats`](super::beats::Beats), doubles and edits are read from.

use super::deviation::{self, Deviation};
use super::moves::Event;
use super::pairing;
use crate::parts::sum::cells_between;
use crate::parts::{PartRole, PartTrack};
use crate::thresholds::arrangement::OWN_MS;
use crate::thresholds::timing::{AUDIBLE_DRUMS_MS, AUDIBLE_MS};

/// Least share of a track's strokes, where the reference plays, that must lie at one offset beyond [`OWN_MS`], and the spread
/// that they may have there, ms, for it to be told. Ours: a played part that is late as a whole.
const BEYOND_SHARE: f64 = 0.6;
/// See [`BEYOND_SHARE`].
const BEYOND_STEADY_MS: f64 = 15.0;
/// Share of the furthest that two strokes of one instant may lie apart, from which a spread is that
/// of strokes that fall anywhere. Ours: even odds over the reach have a standard deviation of 0.58
/// of it, which its cut tails bring to 1; a spread of 20 ms, read within 60, reaches 0.33.
const SCATTERED_SHARE: f64 = 0.9;
/// A part that comes so late after a step of the reference, as a share of the step (a half, a third)
/// and to so many ms, plays between the steps. Ours.
const BEYOND_PLAYED: [f64; 2] = [2.0, 3.0];
/// See [`BEYOND_PLAYED`].
const BEYOND_PLAYED_MS: f64 = 4.0;

/// Deviation from which listeners hear a part of that role, ms.
#[must_use]
pub fn audible_ms(role: PartRole) -> f64 {
    if role == PartRole::Drums { AUDIBLE_DRUMS_MS.0 } else { AUDIBLE_MS.0 }
}

/// How a track lies against strokes at these times, s.
pub(super) fn against(track: &PartTrack, beats: &[f64], first: i64) -> Against {
    let strokes = times_s(track);
    let (pairs, apart_ms) = pairing::pair(&strokes, beats);
    let Some(mut deviation) = deviation::read(&pairs, apart_ms, audible_ms(track.role)) else {
        return Against::Few(pairs.len());
    };
    deviation.played = pairing::beside(&strokes, beats);
    // As good as anywhere within reach: chance, no common rhythm.
    if deviation.spread_ms >= SCATTERED_SHARE * apart_ms {
        return Against::Beyond(None);
    }
    // That far off it is no looseness but latency or a rhythm of its own, which clutter counts.
    if deviation.offset_ms.abs() > OWN_MS {
        let steady = deviation.spread_ms < BEYOND_STEADY_MS
            && pairs.len() as f64 >= BEYOND_SHARE * deviation.played as f64;
        let late_ms = deviation.offset_ms;
        // Latency makes late, and knows nothing of the song's step.
        let step_ms = 1e3 * pairing::step_s(beats);
        let played =
            BEYOND_PLAYED.iter().any(|part| (late_ms - step_ms / part).abs() < BEYOND_PLAYED_MS);
        return Against::Beyond((steady && late_ms > 0.0 && !played).then_some(late_ms));
    }
    let all = cells(track, first);
    let in_cells = 1e-3 / track.cell_s();
    let mut events: Vec<Event> = pairs
        .iter()
        .map(|pair| Event {
            cell: all[pair.part],
            late: pair.late_ms * in_cells,
            offset: deviation.offset_ms * in_cells,
            hit: pair.reference,
        })
        .collect();
    events.sort_by(|a, b| a.cell.total_cmp(&b.cell));
    Against::Strays(deviation, events)
}

/// What [`against`] finds.
pub(super) enum Against {
    /// It plays with it, and strays.
    Strays(Deviation, Vec<Event>),
    /// It lies further off than [`OWN_MS`]: by how much, where nearly all it plays does.
    Beyond(Option<f64>),
    /// Too few strokes of both mean one instant: so many do.
    Few(usize),
}

impl Against {
    pub(super) fn strays(self) -> Option<(Deviation, Vec<Event>)> {
        match self {
            Self::Strays(deviation, events) => Some((deviation, events)),
            Self::Beyond(_) | Self::Few(_) => None,
        }
    }
}

pub(super) fn first_frame(tracks: &[PartTrack]) -> i64 {
    tracks.iter().map(|track| track.start_frame).min().unwrap_or(0)
}

/// Strokes of a track in cells from the frame `first`.
pub(super) fn cells(track: &PartTrack, first: i64) -> Vec<f64> {
    let start = (track.start_frame - first) as f64;
    let length = track.cell_frames.max(1) as f64;
    track.strokes().map(|onset| (start + onset.frame as f64) / length).collect()
}

/// Times of a track's strokes, s, on the timeline of the tracks.
pub(super) fn times_s(track: &PartTrack) -> Vec<f64> {
    track.strokes().map(|onset| track.onset_time_s(onset)).collect()
}

/// Powers of a track from the frame `first`.
pub(super) fn powers(track: &PartTrack, first: i64) -> Vec<f32> {
    let mut powers = vec![0.0; cells_between(first, track)];
    powers.extend(track.cells.iter().map(|cell| cell.weighted));
    powers
}

//! What has to change for the clutter to go: layers that are not played, and rhythms of their own
//! that are played with the drums.

use super::locks::Lock;
use super::rhythm::offset;
use crate::parts::PartRole;
use crate::parts::cost::Arrangement;
use crate::parts::retime::{self, Move};
use crate::thresholds::arrangement as l;

/// How a part is changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// It is not played.
    Mute,
    /// Its notes are played elsewhere: places in s from the start of the part's track.
    Retime(Vec<Move>),
}

impl Change {
    /// A part's power, cell by cell, with the change. `start`: the part's first cell.
    #[must_use]
    pub fn power(&self, power: &[f32], start: usize, cell_s: f64) -> Vec<f32> {
        match self {
            Self::Mute => vec![0.0; power.len()],
            Self::Retime(moves) => {
                let start_s = start as f64 * cell_s;
                let moves: Vec<Move> = moves
                    .iter()
                    .map(|stroke| Move {
                        from_s: stroke.from_s + start_s,
                        to_s: stroke.to_s + start_s,
                    })
                    .collect();
                retime::power(power, cell_s, &moves)
            }
        }
    }

    /// A part's audio with the change.
    #[must_use]
    pub fn audio(&self, planes: &[Vec<f32>], rate_hz: f64) -> Vec<Vec<f32>> {
        match self {
            Self::Mute => planes.iter().map(|plane| vec![0.0; plane.len()]).collect(),
            Self::Retime(moves) => retime::audio(planes, rate_hz, moves),
        }
    }
}

/// The changes, a part each, in order of the parts. `held`: share of the main hits that each part
/// holds through.
pub(super) fn changes(
    arrangement: &Arrangement,
    locks: &[Option<Lock>],
    held: &[Option<f64>],
) -> Vec<(usize, Change)> {
    (0..arrangement.parts())
        .filter_map(|part| {
            if is_layer(arrangement, held, part) {
                Some((part, Change::Mute))
            } else if locks[part].is_some_and(|lock| !lock.holds()) {
                let moves = with_the_drums(arrangement, part);
                (!moves.is_empty()).then_some((part, Change::Retime(moves)))
            } else {
                None
            }
        })
        .collect()
}

/// Whether a part is a layer that lies under the song: it holds through most of the main hits. The
/// bass is none, one line that holds under a song is its floor, and neither are voices; guitars are
/// one where other parts but these carry the song.
fn is_layer(arrangement: &Arrangement, held: &[Option<f64>], part: usize) -> bool {
    let holds = |part: usize| held[part].is_some_and(|share| share >= l::LAYER_HELD_SHARE);
    let role = |part: usize| arrangement.role(part);
    match role(part) {
        PartRole::Drums | PartRole::Bass | PartRole::Vocals => false,
        PartRole::Other => holds(part),
        PartRole::Guitars => {
            let carries = |other: usize| {
                matches!(role(other), PartRole::Guitars | PartRole::Other)
                    && held[other].is_some()
                    && !holds(other)
            };
            holds(part) && (0..arrangement.parts()).any(carries)
        }
    }
}

/// A part's notes, each moved to a main hit of its own as far as there are any near: as many as can
/// be, the nearest, and none past another. What finds no hit stays, between those that did.
fn with_the_drums(arrangement: &Arrangement, part: usize) -> Vec<Move> {
    let onsets = arrangement.onsets(part);
    let main: Vec<f64> = arrangement.main_hits().collect();
    let cell_ms = arrangement.cell_ms();
    let offset = offset(&main, onsets, cell_ms);
    let reach = l::MOVE_MOST_MS / cell_ms;
    let goes = matched(onsets, &main, offset, reach);
    let start = arrangement.start(part) as f64;
    let in_s = |cell: f64| (cell - start) * cell_ms * 1e-3;
    let mut moves = Vec::with_capacity(onsets.len());
    for (n, &at) in onsets.iter().enumerate() {
        let to = match goes[n] {
            Some(hit) => main[hit] + offset,
            None => {
                // Not past its neighbours, which may have moved across it.
                let before = (0..n).rev().find_map(|n| goes[n]).map(|hit| main[hit] + offset);
                let after = (n + 1..onsets.len()).find_map(|n| goes[n]).map(|h| main[h] + offset);
                match (before, after) {
                    (Some(before), Some(after)) if !(before..=after).contains(&at) => {
                        0.5 * (before + after)
                    }
                    (Some(before), None) => at.max(before),
                    (None, Some(after)) => at.min(after),
                    _ => at,
                }
            }
        };
        moves.push(Move { from_s: in_s(at), to_s: in_s(to) });
    }
    moves
}

/// Most hits that are matched at a time. Ours: what is worked out grows with its square.
const HITS_AT_A_TIME: usize = 200;

/// For each note the hit that it goes to: as many pairs as there can be within `reach`, in order, and
/// of those the nearest; a stretch of the song at a time. Times in cells.
fn matched(notes: &[f64], hits: &[f64], offset: f64, reach: f64) -> Vec<Option<usize>> {
    let mut goes = Vec::with_capacity(notes.len());
    for from in (0..hits.len()).step_by(HITS_AT_A_TIME) {
        let to = (from + HITS_AT_A_TIME).min(hits.len());
        let end = hits.get(to).map_or(f64::INFINITY, |next| 0.5 * (next + hits[to - 1]));
        let first = goes.len();
        let count = notes[first..].partition_point(|note| note - offset < end);
        let here = matched_all(&notes[first..first + count], &hits[from..to], offset, reach);
        goes.extend(here.into_iter().map(|hit| hit.map(|hit| from + hit)));
    }
    goes.resize(notes.len(), None);
    goes
}

fn matched_all(notes: &[f64], hits: &[f64], offset: f64, reach: f64) -> Vec<Option<usize>> {
    let (rows, columns) = (notes.len() + 1, hits.len() + 1);
    // Cost of the best matching of the first so many notes and hits; an unmatched note costs twice
    // the reach, more than any pair.
    let mut cost = vec![0.0f64; rows * columns];
    for row in 1..rows {
        cost[row * columns] = row as f64 * 2.0 * reach;
        for column in 1..columns {
            let apart = (notes[row - 1] - offset - hits[column - 1]).abs();
            let pair = if apart <= reach {
                cost[(row - 1) * columns + column - 1] + apart
            } else {
                f64::INFINITY
            };
            let without_note = cost[(row - 1) * columns + column] + 2.0 * reach;
            let without_hit = cost[row * columns + column - 1];
            cost[row * columns + column] = pair.min(without_note).min(without_hit);
        }
    }
    let mut goes = vec![None; notes.len()];
    let (mut row, mut column) = (rows - 1, columns - 1);
    while row > 0 && column > 0 {
        let here = cost[row * columns + column];
        if here == cost[row * columns + column - 1] {
            column -= 1;
        } else if here == cost[(row - 1) * columns + column] + 2.0 * reach {
            row -= 1;
        } else {
            goes[row - 1] = Some(column - 1);
            row -= 1;
            column -= 1;
        }
    }
    goes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes half way between hits go to hits, each to one, in order.
    #[test]
    fn notes_go_to_hits_of_their_own() {
        let hits: Vec<f64> = (0..8).map(|n| f64::from(n) * 500.0).collect();
        let notes: Vec<f64> = (0..8).map(|n| f64::from(n) * 500.0 + 240.0).collect();
        let goes: Vec<_> = matched(&notes, &hits, 0.0, 400.0);
        assert_eq!(goes, (0..8).map(Some).collect::<Vec<_>>());
        // Three notes at one hit: the nearest has it, and one its neighbour.
        let goes = matched(&[450.0, 500.0, 560.0], &[500.0, 1_000.0], 0.0, 600.0);
        assert_eq!(goes.iter().flatten().count(), 2);
        assert!(goes.windows(2).all(|w| w[0].zip(w[1]).is_none_or(|(a, b)| a < b)), "{goes:?}");
        assert_eq!(matched(&[100.0], &[900.0], 0.0, 400.0), [None]);
        assert_eq!(matched(&[], &[900.0], 0.0, 400.0), []);
    }
}

//! What looseness takes from the attacks that parts share.

use super::beats::Beats;
use super::deviation::SHARED_LEAST;
use super::moves::{Event, Moving, Without, gained, version};
use crate::Cost;

/// What summed attacks would gain, dB: loudest 10 ms from the first onset of a hit to 30 ms
/// behind its last, K-weighted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Summed {
    /// Without the spread.
    pub spread: Option<Cost>,
    /// Without the offset.
    pub offset: Option<Cost>,
    /// Without both.
    pub both: Option<Cost>,
    /// Hits at which two of these parts or more play.
    pub hits: usize,
}

/// What the summed attacks of the parts that are `of` it would gain, where two of them play.
pub(super) fn summed(
    moving: &[Moving],
    hits: &[(f64, bool)],
    beats: &Beats,
    of: impl Fn(usize) -> bool,
) -> Summed {
    let (parts, count) = together(moving, hits, beats, of);
    let hits: Vec<(f64, bool)> = hits.iter().map(|&(cell, _)| (cell, false)).collect();
    levels(&parts, &hits, &count)
}

/// What the attacks of all parts would gain at the main hits of the reference, where others strike
/// with it.
pub(super) fn struck(
    moving: &[Moving],
    hits: &[(f64, bool)],
    main: &[bool],
    beats: &Beats,
) -> Summed {
    let (parts, mut count) = together(moving, hits, beats, |_| true);
    for (count, main) in count.iter_mut().zip(main) {
        *count *= usize::from(*main);
    }
    let hits: Vec<(f64, bool)> = hits.iter().map(|&(cell, _)| (cell, false)).collect();
    levels(&parts, &hits, &count)
}

/// The parts that are `of` it, and how many of them strike at each hit.
fn together(
    moving: &[Moving],
    hits: &[(f64, bool)],
    beats: &Beats,
    of: impl Fn(usize) -> bool,
) -> (Vec<Moving>, Vec<usize>) {
    let mut count = vec![0usize; hits.len()];
    let parts: Vec<Moving> = moving
        .iter()
        .enumerate()
        .filter(|(index, part)| of(*index) && (beats.hold(*index) || !part.events.is_empty()))
        .map(|(index, part)| {
            let mut part = part.clone();
            if index == beats.reference {
                part.events = hits
                    .iter()
                    .enumerate()
                    .map(|(hit, &(cell, _))| Event { cell, hit, ..Event::default() })
                    .collect();
            }
            part
        })
        .collect();
    for event in parts.iter().flat_map(|part| &part.events) {
        count[event.hit] += 1;
    }
    (parts, count)
}

pub(super) fn levels(parts: &[Moving], hits: &[(f64, bool)], count: &[usize]) -> Summed {
    let together = count.iter().filter(|&&count| count >= 2).count();
    if together < SHARED_LEAST {
        return Summed { hits: together, ..Summed::default() };
    }
    let levels = |without| -> Vec<f64> {
        let all = version(parts, hits, without, |_| true).levels_db();
        all.into_iter().zip(count).filter(|(_, count)| **count >= 2).map(|(db, _)| db).collect()
    };
    let now = levels(Without::Nothing);
    Summed {
        spread: gained(&now, &levels(Without::Spread)),
        offset: gained(&now, &levels(Without::Offset)),
        both: gained(&now, &levels(Without::Both)),
        hits: together,
    }
}

//! Several parts as one sum of power: the mix that a cost is computed on.
//!
//! Parts are different sounds, so their powers add (ours; two takes of one riff do not stay in
//! phase for longer than a stroke). A change of one part, thinned out or moved in time, is a
//! change of its powers, and the hit contrast of the sum tells what it does.

use super::PartTrack;
use crate::surround;
use crate::thresholds as t;

pub use crate::quantile::{median, percentile};

/// K-weighted power of all tracks together, cell by cell, as long as the longest. Tracks are
/// placed by their [`start_frame`](PartTrack::start_frame), to the nearest cell; the first cell is
/// that of the earliest start.
#[must_use]
pub fn weighted(tracks: &[&PartTrack]) -> Vec<f32> {
    let first = tracks.iter().map(|track| track.start_frame).min().unwrap_or(0);
    let mut sum = Vec::new();
    for track in tracks {
        let at = cells_between(first, track);
        if sum.len() < at + track.cells.len() {
            sum.resize(at + track.cells.len(), 0.0);
        }
        for (sum, cell) in sum[at..].iter_mut().zip(&track.cells) {
            *sum += cell.weighted;
        }
    }
    sum
}

/// Cells from the frame `first` to the track's start.
pub(super) fn cells_between(first: i64, track: &PartTrack) -> usize {
    let frames = (track.start_frame - first).max(0) as f64;
    (frames / track.cell_frames.max(1) as f64).round() as usize
}

/// Hit contrast, dB, at each of `hits` (cell numbers in order of time) in a sum of powers, by the
/// definition of [`Hit::contrast_db`](crate::Hit::contrast_db): loudest 10 ms of the first 30 ms
/// over the 400 ms before and the sustained part after, without the starts of other hits. Hits
/// that do not stand out by [`t::HIT_CONTRAST_DB`] are given as they are: a caller that compares
/// two versions needs both.
#[must_use]
pub fn contrasts_db(weighted: &[f32], hits: &[u64]) -> Vec<f64> {
    let known = 0..hits.len() as u64;
    known
        .clone()
        .map(|number| {
            let (level, _) = surround::level(weighted, hits[number as usize]);
            let bed = surround::bed(weighted, number, known.clone(), |n| hits[n as usize]);
            surround::contrast_db(level.max(f64::MIN_POSITIVE), bed)
        })
        .collect()
}

/// Milliseconds of a hit whose loudest 10 ms is its level.
pub const HIT_CELLS: usize = t::HIT_LEVEL_MS as usize;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::PartCell;

    fn track(start_frame: i64, powers: &[f32]) -> PartTrack {
        let cells = powers.iter().map(|&weighted| PartCell { weighted, ..PartCell::default() });
        PartTrack { start_frame, cell_frames: 48, cells: cells.collect(), ..PartTrack::default() }
    }

    /// By hand: a track that starts 120 frames, two and a half cells, later counts from the third cell
    /// on, and none ends another.
    #[test]
    fn powers_add_where_the_tracks_lie() {
        let (long, late) = (track(-24, &[1.0; 5]), track(96, &[2.0; 2]));
        assert_eq!(weighted(&[&long, &late]), [1.0, 1.0, 1.0, 3.0, 3.0]);
        assert_eq!(weighted(&[&late, &long]), [1.0, 1.0, 1.0, 3.0, 3.0]);
        let later = track(96 + 48, &[2.0; 2]);
        assert_eq!(weighted(&[&long, &later]), [1.0, 1.0, 1.0, 1.0, 3.0, 2.0]);
        assert_eq!(weighted(&[]), [0.0f32; 0]);
    }

    /// Closed form: strokes of power 1 over 0.01 stand out by 20 dB; one that is gone by nothing, and where
    /// there is nothing at all it says so without an end.
    #[test]
    fn contrast_of_strokes_over_a_steady_bed() {
        let mut powers = [0.01f32; 3_000];
        powers[500..530].fill(1.0);
        powers[1_500..1_530].fill(1.0);
        let db = contrasts_db(&powers, &[500, 1_500, 2_500]);
        for (db, want) in db.iter().zip([20.0, 20.0, 0.0]) {
            assert!((db - want).abs() < 1e-4, "{db} for {want}");
        }
        assert!(contrasts_db(&[0.0; 1_000], &[500])[0].is_finite());
    }
}

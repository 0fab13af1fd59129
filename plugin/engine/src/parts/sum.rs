//! Several parts as one sum of power: the mix that a cost is computed on.
//!
//! Parts are different sounds, so their powers add (ours; two takes of one riff do not stay in
//! phase for longer than a stroke). A change of one part, thinned out or moved in time, is a
//! change of its powers, and the hit contrast of the sum tells what it does.

use super::PartTrack;
use crate::loudness::power_of_lufs;
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
    (0..hits.len())
        .map(|number| {
            let (level, bed) = level_and_bed(weighted, hits, number);
            surround::contrast_db(level.max(f64::MIN_POSITIVE), bed)
        })
        .collect()
}

/// What is left of the hits numbered `counted`, dB: their contrast as [`contrasts_db`] gives it, and
/// nothing of one that is gone: it does not stand out, or is below [`t::ABSOLUTE_GATE_LUFS`], under which
/// a meter finds no hit, however silent it is around it.
#[must_use]
pub fn left_db(weighted: &[f32], hits: &[u64], counted: &[usize]) -> Vec<f64> {
    let gate = power_of_lufs(t::ABSOLUTE_GATE_LUFS);
    counted
        .iter()
        .map(|&number| {
            let (level, bed) = level_and_bed(weighted, hits, number);
            if level < gate { 0.0 } else { surround::contrast_db(level, bed).max(0.0) }
        })
        .collect()
}

/// Power of the hit of that number, and of what surrounds it.
fn level_and_bed(weighted: &[f32], hits: &[u64], number: usize) -> (f64, f64) {
    let (level, _) = surround::level(weighted, hits[number]);
    let known = 0..hits.len() as u64;
    (level, surround::bed(weighted, number as u64, known, |n| hits[n as usize]))
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

    /// Closed form: 20 dB are left where strokes of power 1 are, whichever of them count, and nothing of the
    /// third, which is 3 dB under what surrounds it, or where there is none at all.
    #[test]
    fn nothing_is_left_of_hits_that_are_gone() {
        let mut powers = [0.01f32; 4_000];
        powers[500..530].fill(1.0);
        powers[1_500..1_530].fill(1.0);
        powers[2_500..2_530].fill(0.005);
        let hits = [500, 1_500, 2_500, 3_500];
        let left = left_db(&powers, &hits, &[1, 2, 3]);
        for (db, want) in left.iter().zip([20.0, 0.0, 0.0]) {
            assert!((db - want).abs() < 1e-4, "{db} for {want}");
        }
        assert!(contrasts_db(&powers, &hits)[2] < -2.9);
        assert_eq!(left_db(&[0.0; 4_000], &hits, &[0, 3]), [0.0, 0.0]);
    }

    /// A stroke over silence stands out by all that contrast goes to as long as it is above the gate of
    /// -70 LUFS, and by nothing below it.
    #[test]
    fn a_hit_below_the_gate_is_gone() {
        let gate = power_of_lufs(t::ABSOLUTE_GATE_LUFS);
        for (db, want) in [(0.01, t::CONTRAST_MOST_DB), (-0.01, 0.0)] {
            let mut powers = [0.0f32; 1_000];
            powers[500..530].fill((gate * 10f64.powf(db / 10.0)) as f32);
            let left = left_db(&powers, &[500], &[0]);
            assert!((left[0] - want).abs() < 1e-9, "{db} dB over the gate: {} dB", left[0]);
        }
    }
}

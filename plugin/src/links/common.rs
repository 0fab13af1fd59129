//! Which parts are read together, and where: on what all of them were heard, since a part counts as silent
//! only where it was heard to be.

use std::ops::Range;

use brunt_engine::parts::levels::Stretch;
use brunt_engine::parts::{PartCell, PartTrack};

use super::timeline::{Heard, PAGE};

/// Cells without sound of all parts that a passage may hold. Ours: 8 s, a general pause.
const PAUSE: i64 = 8 * PAGE as i64;
/// Cells between what was heard last and the last that a part shares with the others from which it is read no
/// more. Ours: 16 s, twice a pause and longer than most tails, so that a track that was switched off does not
/// hold the others back for long.
const AWAY: i64 = 2 * PAUSE;

/// The parts that are read together.
#[derive(Debug, Default)]
pub(super) struct Common {
    /// Of each part, whether it is one of them.
    pub(super) counts: Vec<bool>,
    /// Cells of the host's timeline on which all of them were heard, around what was heard last.
    stretches: Vec<Range<i64>>,
}

impl Common {
    /// Of parts that were heard on these cells. One that was never heard does not count, nor one that shares
    /// nothing with the others that is near what was heard last.
    pub(super) fn of(parts: &[Vec<Heard>]) -> Self {
        let mut common = Self { counts: vec![false; parts.len()], stretches: Vec::new() };
        let all = parts.iter().enumerate().flat_map(|(n, heard)| heard.iter().map(move |h| (n, h)));
        let Some((first, newest)) = all.max_by_key(|(_, heard)| (heard.look, heard.cells.end))
        else {
            return common;
        };
        let newest = newest.cells.end - 1;
        let cells = |part: &[Heard]| part.iter().map(|heard| heard.cells.clone()).collect();
        let mut stretches: Vec<Range<i64>> = cells(&parts[first]);
        common.counts[first] = true;
        for (part, counts) in parts.iter().zip(&mut common.counts).filter(|(_, counts)| !**counts) {
            let with = both(&stretches, &cells(part));
            if with.iter().any(|stretch| off(stretch, newest) <= AWAY) {
                (stretches, *counts) = (with, true);
            }
        }
        common.stretches = around(stretches, newest);
        common
    }

    /// The pages that hold it; `None` where there is nothing.
    pub(super) fn pages(&self) -> Option<(i64, i64)> {
        let page = |cell: i64| cell.div_euclid(PAGE as i64);
        Some((page(self.stretches.first()?.start), page(self.stretches.last()?.end - 1)))
    }

    /// Whether all were heard there.
    fn holds(&self, cell: i64) -> bool {
        let after = self.stretches.partition_point(|stretch| stretch.end <= cell);
        self.stretches.get(after).is_some_and(|stretch| stretch.contains(&cell))
    }

    /// Of hits of the mix, frames of the timeline, those where all were heard, with cells of `cell_frames`.
    pub(super) fn hits(&self, mut hits: Vec<i64>, cell_frames: usize) -> Vec<i64> {
        let frames = cell_frames.max(1) as i64;
        hits.retain(|hit| self.holds(hit.div_euclid(frames)));
        hits
    }

    /// The same of the mix's levels: where all were heard throughout.
    pub(super) fn levels(&self, mut levels: Vec<Stretch>, cell_frames: usize) -> Vec<Stretch> {
        let frames = cell_frames.max(1) as i64;
        levels.retain(|level| {
            let first = level.start_frame.div_euclid(frames);
            let last = (level.start_frame + i64::from(level.frames) - 1).div_euclid(frames);
            let after = self.stretches.partition_point(|stretch| stretch.end <= first);
            let inside = |stretch: &Range<i64>| stretch.start <= first && last < stretch.end;
            self.stretches.get(after).is_some_and(inside)
        });
        levels
    }

    /// Leaves of a track of [`Self::pages`] of a part that counts what lies where all were heard; silence
    /// between.
    pub(super) fn cut(&self, track: &mut PartTrack) {
        let (Some(first), Some(last)) = (self.stretches.first(), self.stretches.last()) else {
            return;
        };
        let frames = track.cell_frames.max(1) as i64;
        let from = track.start_frame.div_euclid(frames);
        let mut cells = vec![PartCell::default(); (last.end - first.start) as usize];
        for stretch in &self.stretches {
            let within = |from: i64| (stretch.start - from) as usize..(stretch.end - from) as usize;
            if let Some(own) = track.cells.get(within(from)) {
                cells[within(first.start)].copy_from_slice(own);
            }
        }
        let (old, new) = (track.start_frame, first.start * frames);
        (track.start_frame, track.cells) = (new, cells);
        track.onsets.retain(|onset| self.holds((old + onset.frame as i64).div_euclid(frames)));
        for onset in &mut track.onsets {
            onset.frame = (old + onset.frame as i64 - new) as u64;
            onset.time_s = onset.frame as f64 / track.sample_rate_hz;
        }
        track.sides.iter_mut().for_each(|side| self.cut(side));
        if track.sides.iter().any(|side| side.onsets.is_empty()) {
            track.sides.clear();
        }
    }
}

/// Cells from a stretch to a cell; 0 within.
fn off(stretch: &Range<i64>, cell: i64) -> i64 {
    (stretch.start - cell).max(cell - (stretch.end - 1)).max(0)
}

/// What lies in both of two lists of stretches in order; where two meet, as one.
fn both(a: &[Range<i64>], b: &[Range<i64>]) -> Vec<Range<i64>> {
    let (mut a, mut b) = (a.iter().peekable(), b.iter().peekable());
    let mut both: Vec<Range<i64>> = Vec::new();
    while let (Some(one), Some(other)) = (a.peek(), b.peek()) {
        let (start, end) = (one.start.max(other.start), one.end.min(other.end));
        let ends_first = one.end <= other.end;
        if start < end {
            push(&mut both, start..end);
        }
        if ends_first {
            a.next()
        } else {
            b.next()
        };
    }
    both
}

fn push(stretches: &mut Vec<Range<i64>>, next: Range<i64>) {
    match stretches.last_mut() {
        Some(last) if last.end == next.start => last.end = next.end,
        _ => stretches.push(next),
    }
}

/// Those around the one nearest to a cell, as far as no pause is longer than [`PAUSE`].
fn around(all: Vec<Range<i64>>, cell: i64) -> Vec<Range<i64>> {
    let mut stretches = Vec::new();
    all.into_iter().for_each(|stretch| push(&mut stretches, stretch));
    let near = |n: &usize| (off(&stretches[*n], cell), std::cmp::Reverse(*n));
    let Some(nearest) = (0..stretches.len()).min_by_key(near) else { return stretches };
    let pauses = |n: &usize| stretches[*n].start - stretches[n - 1].end > PAUSE;
    let first = (1..=nearest).rev().find(pauses).unwrap_or(0);
    let end = (nearest + 1..stretches.len()).find(pauses).unwrap_or(stretches.len());
    stretches[first..end].to_vec()
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::PartOnset;

    use super::*;

    /// A second or so: a page.
    const S: i64 = PAGE as i64;

    fn heard(stretches: &[(i64, i64, u32)]) -> Vec<Heard> {
        stretches.iter().map(|&(from, to, look)| Heard { cells: from..to, look }).collect()
    }

    fn stretches(parts: &[Vec<Heard>]) -> (Vec<bool>, Vec<(i64, i64)>) {
        let Common { counts, stretches } = Common::of(parts);
        (counts, stretches.iter().map(|stretch| (stretch.start, stretch.end)).collect())
    }

    #[test]
    fn what_all_were_heard_on_counts_and_no_more() {
        let whole = heard(&[(0, 10 * S, 1), (10 * S, 40 * S, 2)]);
        let late = heard(&[(22 * S + 7, 40 * S - 5, 2)]);
        let never = heard(&[]);
        assert_eq!(
            stretches(&[whole.clone(), late, never]),
            (vec![true, true, false], vec![(22 * S + 7, 40 * S - 5)])
        );
        // A part that was heard again later on the same bars, and one with a hole.
        let later = heard(&[(16 * S, 32 * S, 9)]);
        let hole = heard(&[(0, 20 * S, 1), (20 * S + 3, 40 * S, 2)]);
        assert_eq!(
            stretches(&[whole, later, hole]),
            (vec![true; 3], vec![(16 * S, 20 * S), (20 * S + 3, 32 * S)])
        );
        assert_eq!(stretches(&[]), (vec![], vec![]));
    }

    #[test]
    fn a_long_pause_of_one_part_parts_two_passages() {
        let whole = heard(&[(0, 60 * S, 3)]);
        let rests = |pause: i64| heard(&[(0, 20 * S, 1), (20 * S + pause, 60 * S, 3)]);
        let read = |pause| stretches(&[whole.clone(), rests(pause)]).1;
        assert_eq!(read(PAUSE), [(0, 20 * S), (20 * S + PAUSE, 60 * S)]);
        assert_eq!(read(PAUSE + 1), [(20 * S + PAUSE + 1, 60 * S)]);
    }

    /// A track that was switched off holds nobody back; one whose part was recorded alone and ahead counts.
    #[test]
    fn a_part_that_is_away_from_what_is_heard_is_left_out() {
        let whole = heard(&[(0, 100 * S, 5)]);
        let gone = |until: i64| heard(&[(0, until, 2)]);
        let near = 100 * S - AWAY;
        assert_eq!(stretches(&[gone(near), whole.clone()]), (vec![true, true], vec![(0, near)]));
        assert_eq!(
            stretches(&[gone(near - 1), whole.clone()]),
            (vec![false, true], vec![(0, 100 * S)])
        );
        // One old page, all others in a loop elsewhere.
        let page = heard(&[(90 * S, 91 * S, 1)]);
        let looped = heard(&[(0, 4 * S, 7), (4 * S, 100 * S, 2)]);
        assert_eq!(stretches(&[page, looped]), (vec![false, true], vec![(0, 100 * S)]));
        // Two that share nothing: the one heard last.
        let (one, other) = (heard(&[(0, 10 * S, 1)]), heard(&[(10 * S, 20 * S, 2)]));
        assert_eq!(stretches(&[one, other]), (vec![false, true], vec![(10 * S, 20 * S)]));
        let (first, second) = (heard(&[(0, 30 * S, 1)]), heard(&[(0, 5 * S, 2)]));
        assert_eq!(stretches(&[first, second]), (vec![true, true], vec![(0, 5 * S)]));
    }

    #[test]
    fn a_track_is_cut_to_what_all_were_heard_on() {
        let cell = |n: usize| PartCell { weighted: n as f32, ..PartCell::default() };
        let onset = |frame: u64| PartOnset { frame, ..PartOnset::default() };
        let own = PartTrack {
            sample_rate_hz: 48_000.0,
            cell_frames: 48,
            start_frame: 100 * 48,
            cells: (100..200).map(cell).collect(),
            onsets: [5, 11 * 48 + 3, 45 * 48, 51 * 48].map(onset).to_vec(),
            ..PartTrack::default()
        };
        let side = |last: u64| PartTrack { onsets: vec![onset(last)], ..own.clone() };
        let mut track = PartTrack { sides: vec![side(11 * 48), side(59 * 48)], ..own.clone() };
        let common = Common::of(&[heard(&[(100, 200, 1)]), heard(&[(110, 120, 1), (150, 160, 1)])]);
        common.cut(&mut track);
        assert_eq!((track.start_frame, track.cells.len()), (110 * 48, 50));
        let power = |n: usize| track.cells[n].weighted;
        assert_eq!([0, 9, 10, 39, 40, 49].map(power), [110.0, 119.0, 0.0, 0.0, 150.0, 159.0]);
        let frames: Vec<u64> = track.onsets.iter().map(|onset| onset.frame).collect();
        assert_eq!(frames, [48 + 3, 41 * 48]);
        assert_eq!(track.onsets[1].time_s, 41e-3);
        assert_eq!(track.sides.len(), 2);
        assert_eq!(track.sides[1].onsets[0].frame, 49 * 48);
        let mut one = PartTrack { sides: vec![side(11 * 48), side(30 * 48)], ..own };
        common.cut(&mut one);
        assert!(one.sides.is_empty(), "a side without a stroke is no take");
        let hits = [109 * 48, 110 * 48, 119 * 48 + 47, 130 * 48, 160 * 48].to_vec();
        assert_eq!(common.hits(hits, 48), [110 * 48, 119 * 48 + 47]);
        let level =
            |cell: i64| Stretch { start_frame: cell * 48, frames: 480, ..Stretch::default() };
        let levels = [109, 110, 111, 150].map(level).to_vec();
        assert_eq!(common.levels(levels, 48), [level(110), level(150)]);
    }
}

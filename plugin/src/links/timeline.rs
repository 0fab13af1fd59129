//! What was heard of one part, by its place on the host's timeline.

use std::collections::BTreeMap;
use std::f32::consts::FRAC_1_SQRT_2;
use std::ops::Range;

use brunt_engine::parts::{PartCell, PartOnset, PartTrack};

/// Cells of a page: about a second.
pub const PAGE: usize = 1024;
/// Cells that two onsets of a part lie apart at least. Ours: the picker's own spacing. Where a new
/// pass meets an old one, the same stroke can stand a millisecond apart in both.
const APART: i64 = 24;

/// What a part instance tells, in the order of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Item {
    /// The next cell is that of this number on the host's timeline: cell `n` starts at the song's
    /// frame `n * cell_frames`.
    At(i64),
    /// A cell; the following one is its neighbour.
    Cell(PartCell),
    /// An onset, some cells behind the cell that it lies in.
    Onset {
        /// Frame of the host's timeline.
        frame: i64,
        /// As in [`PartOnset::strength`].
        strength: f32,
        /// As in [`PartOnset::level_lufs`].
        level_lufs: f32,
        /// Left (0) or right (1) alone; `None` of the part.
        side: Option<u8>,
    },
    /// Left and right turn out to be one take: what they told apart in this pass is void.
    OneTake,
}

/// Cells that were heard one after another, all of one page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heard {
    /// Their numbers on the host's timeline.
    pub cells: Range<i64>,
    /// The look in which the newest of them was heard.
    pub look: u32,
}

#[derive(Clone, Copy, Debug)]
struct Kept {
    frame: i64,
    strength: f32,
    level_lufs: f32,
    side: Option<u8>,
    /// The pass in which it was heard.
    run: u64,
    /// The look in which it came.
    look: u32,
}

#[derive(Debug)]
struct Page {
    cells: Box<[PartCell]>,
    /// The look in which each cell was last heard; 0 where it never was.
    heard: Box<[u32]>,
    onsets: Vec<Kept>,
    /// The newest of `heard`.
    last: u32,
}

impl Page {
    fn new() -> Self {
        Self {
            cells: vec![PartCell::default(); PAGE].into(),
            heard: vec![0; PAGE].into(),
            onsets: Vec::new(),
            last: 0,
        }
    }
}

/// One part's cells and onsets as they were heard last at each place. Not for the audio thread.
#[derive(Debug, Default)]
pub struct Timeline {
    pages: BTreeMap<i64, Page>,
    rate_hz: f64,
    cell_frames: i64,
    /// Number of the next cell; `None` before the first place.
    at: Option<i64>,
    run: u64,
    changes: u64,
}

impl Timeline {
    /// An empty one for cells of `cell_frames` frames at `rate_hz`.
    #[must_use]
    pub fn new(rate_hz: f64, cell_frames: usize) -> Self {
        Self { rate_hz, cell_frames: cell_frames.max(1) as i64, ..Self::default() }
    }

    /// Sample rate, Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Takes what comes next, in the look of that number, counted from 1.
    pub fn take(&mut self, items: impl IntoIterator<Item = Item>, look: u32) {
        // First of the cells that were heard anew one after another.
        let mut first = self.at;
        for item in items {
            self.changes += 1;
            match item {
                Item::At(cell) => {
                    self.replace(first);
                    self.at = Some(cell);
                    self.run += 1;
                    first = self.at;
                }
                Item::Cell(cell) => self.cell(cell, look),
                Item::Onset { frame, strength, level_lufs, side } => {
                    let kept = Kept { frame, strength, level_lufs, side, run: self.run, look };
                    self.onset(kept);
                }
                Item::OneTake => {
                    let run = self.run;
                    for page in self.pages.values_mut() {
                        page.onsets.retain(|kept| kept.run != run || kept.side.is_none());
                    }
                }
            }
        }
        self.replace(first);
    }

    fn cell(&mut self, cell: PartCell, look: u32) {
        let Some(at) = self.at else { return };
        self.at = Some(at + 1);
        let page = self.pages.entry(at.div_euclid(PAGE as i64)).or_insert_with(Page::new);
        let slot = at.rem_euclid(PAGE as i64) as usize;
        page.cells[slot] = cell;
        page.heard[slot] = look;
        page.last = look;
    }

    /// Forgets the onsets of earlier passes in the cells from `first` to the next one: what was heard
    /// there before is gone.
    fn replace(&mut self, first: Option<i64>) {
        let (Some(first), Some(next)) = (first, self.at) else { return };
        if first == next {
            return;
        }
        let (run, frames, page) =
            (self.run, self.cell_frames, |cell: i64| cell.div_euclid(PAGE as i64));
        for (_, page) in self.pages.range_mut(page(first)..=page(next - 1)) {
            page.onsets.retain(|kept| {
                kept.run == run || !(first..next).contains(&kept.frame.div_euclid(frames))
            });
        }
    }

    fn onset(&mut self, new: Kept) {
        let page = |frame: i64| frame.div_euclid(self.cell_frames * PAGE as i64);
        let reach = APART * self.cell_frames;
        for number in page(new.frame - reach)..=page(new.frame + reach) {
            if let Some(page) = self.pages.get_mut(&number) {
                page.onsets
                    .retain(|old| old.run == new.run || (old.frame - new.frame).abs() >= reach);
            }
        }
        if let Some(page) = self.pages.get_mut(&page(new.frame)) {
            page.onsets.push(new);
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.changes += u64::from(!self.pages.is_empty());
        self.pages.clear();
        self.at = None;
    }

    /// A number that changes with what is held, but for pages that are forgotten to save room.
    #[must_use]
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// Number and last look of every page that was heard after the look `since`.
    pub fn pages(&self, since: u32) -> impl Iterator<Item = (i64, u32)> {
        let heard = self.pages.iter().filter(move |(_, page)| page.last > since);
        heard.map(|(number, page)| (*number, page.last))
    }

    /// What was heard after the look `since`, in order of place.
    #[must_use]
    pub fn heard(&self, since: u32) -> Vec<Heard> {
        let mut all: Vec<Heard> = Vec::new();
        for (number, page) in self.pages.iter().filter(|(_, page)| page.last > since) {
            let mut at = number * PAGE as i64;
            for run in page.heard.chunk_by(|a, b| (*a > since) == (*b > since)) {
                let cells = at..at + run.len() as i64;
                at = cells.end;
                if run[0] > since {
                    all.push(Heard { cells, look: run.iter().copied().max().unwrap_or(0) });
                }
            }
        }
        all
    }

    /// Pages held.
    #[must_use]
    pub fn len(&self) -> usize {
        self.pages.len()
    }

    /// Whether nothing is held.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.pages.is_empty()
    }

    /// Forgets every page that was heard last in the look `look` or before.
    pub fn forget_until(&mut self, look: u32) {
        self.pages.retain(|_, page| page.last > look);
    }

    /// What was heard after the look `since` on the pages `first..=last`: from the first such cell
    /// to the last, silence where none was heard between. `None` where nothing was. Name and role
    /// are left to the caller.
    #[must_use]
    pub fn track(&self, first: i64, last: i64, since: u32) -> Option<PartTrack> {
        let pages = || self.pages.range(first..=last);
        let number = |page: i64, slot: usize| page * PAGE as i64 + slot as i64;
        let from = pages()
            .find_map(|(n, page)| Some(number(*n, page.heard.iter().position(|l| *l > since)?)))?;
        let to = pages().rev().find_map(|(n, page)| {
            Some(number(*n, page.heard.iter().rposition(|l| *l > since)?) + 1)
        })?;
        let mut track = PartTrack {
            sample_rate_hz: self.rate_hz,
            cell_frames: self.cell_frames as usize,
            start_frame: from * self.cell_frames,
            cells: vec![PartCell::default(); (to - from) as usize],
            ..PartTrack::default()
        };
        let mut takes = [Vec::new(), Vec::new()];
        for (n, page) in pages() {
            for (slot, cell) in page.cells.iter().enumerate() {
                if page.heard[slot] > since {
                    track.cells[(number(*n, slot) - from) as usize] = *cell;
                }
            }
            let inside = |frame: i64| (from..to).contains(&frame.div_euclid(self.cell_frames));
            for kept in page.onsets.iter().filter(|kept| kept.look > since && inside(kept.frame)) {
                let frame = (kept.frame - track.start_frame) as u64;
                let onset = PartOnset {
                    frame,
                    time_s: frame as f64 / self.rate_hz,
                    strength: kept.strength,
                    level_lufs: kept.level_lufs,
                };
                match kept.side {
                    None => track.onsets.push(onset),
                    Some(side) => takes[usize::from(side).min(1)].push(onset),
                }
            }
        }
        if takes.iter().all(|take| !take.is_empty()) {
            track.sides =
                takes.into_iter().enumerate().map(|(n, take)| side(&track, n, take)).collect();
        }
        track.onsets.sort_by_key(|onset| onset.frame);
        Some(track)
    }
}

/// Left or right of a track as one of its own, with these onsets.
fn side(track: &PartTrack, side: usize, mut onsets: Vec<PartOnset>) -> PartTrack {
    onsets.sort_by_key(|onset| onset.frame);
    let own = |cell: &PartCell| PartCell {
        weighted: cell.sides[side],
        sides: [cell.sides[side], 0.0],
        lows: [cell.lows[side] * FRAC_1_SQRT_2; 2],
        ..PartCell::default()
    };
    PartTrack {
        sample_rate_hz: track.sample_rate_hz,
        cell_frames: track.cell_frames,
        start_frame: track.start_frame,
        cells: track.cells.iter().map(own).collect(),
        onsets,
        ..PartTrack::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAMES: i64 = 48;

    fn cell(power: f32) -> Item {
        Item::Cell(PartCell { weighted: power, ..PartCell::default() })
    }

    fn onset(cell: i64) -> Item {
        Item::Onset { frame: cell * FRAMES + 7, strength: 1.0, level_lufs: -20.0, side: None }
    }

    /// One pass over the cells `from..to`, with onsets in `onsets`.
    fn pass(timeline: &mut Timeline, from: i64, to: i64, power: f32, onsets: &[i64], look: u32) {
        let mut items = vec![Item::At(from)];
        for n in from..to {
            items.push(cell(power));
            // Onsets come 40 cells behind.
            if onsets.contains(&(n - 40)) {
                items.push(onset(n - 40));
            }
        }
        items.extend(((to - 40).max(from)..to).filter(|n| onsets.contains(n)).map(onset));
        // Wherever a look cuts.
        for some in items.chunks(777) {
            timeline.take(some.iter().copied(), look);
        }
    }

    fn places(track: &PartTrack) -> Vec<i64> {
        let frame = |o: &PartOnset| track.start_frame + o.frame as i64;
        track.onsets.iter().map(|o| frame(o).div_euclid(FRAMES)).collect()
    }

    #[test]
    fn a_later_pass_replaces_the_earlier_place_by_place() {
        let mut timeline = Timeline::new(48_000.0, FRAMES as usize);
        pass(&mut timeline, 0, 5_000, 1.0, &[100, 2_000, 2_500, 4_000], 1);
        pass(&mut timeline, 1_500, 3_000, 4.0, &[2_100, 2_900], 2);
        let track = timeline.track(i64::MIN, i64::MAX, 0).expect("heard");
        assert_eq!((track.start_frame, track.cells.len()), (0, 5_000));
        let power = |n: usize| track.cells[n].weighted;
        assert_eq!([power(1_499), power(1_500), power(2_999), power(3_000)], [1.0, 4.0, 4.0, 1.0]);
        assert_eq!(places(&track), [100, 2_100, 2_900, 4_000]);
        assert!(track.onsets.iter().all(|o| (o.time_s - o.frame as f64 / 48e3).abs() < 1e-12));
        let newer = timeline.track(i64::MIN, i64::MAX, 1).expect("heard");
        assert_eq!((newer.start_frame, newer.cells.len()), (1_500 * FRAMES, 1_500));
        assert_eq!(places(&newer), [2_100, 2_900]);
    }

    /// A stroke on the loop's first beat: the pass before placed it a millisecond ahead of it.
    #[test]
    fn a_stroke_on_the_seam_counts_once() {
        let mut timeline = Timeline::new(48_000.0, FRAMES as usize);
        pass(&mut timeline, 0, 4_000, 1.0, &[999, 2_000, 3_001], 1);
        pass(&mut timeline, 1_000, 3_000, 1.0, &[1_000, 2_000, 2_999], 2);
        let track = timeline.track(i64::MIN, i64::MAX, 0).expect("heard");
        assert_eq!(places(&track), [1_000, 2_000, 2_999]);
    }

    #[test]
    fn a_gap_is_silent_and_positions_before_the_song_count() {
        let mut timeline = Timeline::new(48_000.0, FRAMES as usize);
        pass(&mut timeline, -2_000, -1_500, 1.0, &[-1_800], 1);
        pass(&mut timeline, 300, 500, 1.0, &[400], 1);
        let track = timeline.track(i64::MIN, i64::MAX, 0).expect("heard");
        assert_eq!((track.start_frame, track.cells.len()), (-2_000 * FRAMES, 2_500));
        assert_eq!(track.cells[1_000], PartCell::default());
        assert_eq!(places(&track), [-1_800, 400]);
        assert!(timeline.track(5, 9, 0).is_none());
    }

    #[test]
    fn what_was_heard_is_told_by_stretches() {
        let (mut timeline, page) = (Timeline::new(48_000.0, FRAMES as usize), PAGE as i64);
        pass(&mut timeline, page - 10, page + 500, 1.0, &[], 1);
        pass(&mut timeline, page + 300, page + 400, 1.0, &[], 2);
        pass(&mut timeline, page + 600, page + 700, 1.0, &[], 3);
        let heard = |since| -> Vec<(i64, i64, u32)> {
            let heard = timeline.heard(since).into_iter();
            heard.map(|h| (h.cells.start - page, h.cells.end - page, h.look)).collect()
        };
        assert_eq!(heard(0), [(-10, 0, 1), (0, 500, 2), (600, 700, 3)]);
        assert_eq!(heard(1), [(300, 400, 2), (600, 700, 3)]);
        assert_eq!(heard(3), []);
    }

    #[test]
    fn old_pages_can_be_forgotten() {
        let mut timeline = Timeline::new(48_000.0, FRAMES as usize);
        pass(&mut timeline, 0, 4 * PAGE as i64, 1.0, &[10], 1);
        pass(&mut timeline, 0, PAGE as i64, 1.0, &[], 2);
        assert_eq!(timeline.len(), 4);
        timeline.forget_until(1);
        assert_eq!(timeline.pages(0).collect::<Vec<_>>(), [(0, 2)]);
        timeline.clear();
        assert!(timeline.is_empty() && timeline.track(i64::MIN, i64::MAX, 0).is_none());
        timeline.take([cell(1.0)], 3);
        assert!(timeline.is_empty(), "a cell without a place is none");
    }
}

//! From onsets to measured hits.

use crate::Hit;
use crate::bands::BANDS;
use crate::cells::{Cells, MICRO};
use crate::decibels::{magnitude_db, power_db};
use crate::loudness::lufs;
use crate::onset::{DELAY_CELLS, Onset, OnsetDetector};
use crate::shape::{FRAMES, frame_s, starts_s};
use crate::surround;
use crate::thresholds as t;

/// Onsets remembered: those that wait for their surroundings, and those inside the look-back of
/// 400 ms, at one in [`t::ONSET_SPACING_CELLS`] at most.
const ONSETS: usize = 64;

/// A hit with what the leak estimators need beside the published readings.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct MeasuredHit {
    pub(crate) hit: Hit,
    /// Running number of its onset.
    pub(crate) number: u64,
    /// Micro-cell of the onset.
    pub(crate) micro: u64,
    /// Which frames of the surroundings' spectrum are free of other hits.
    pub(crate) free: [bool; FRAMES - 1],
    /// Cell of the onset, and the cell behind the part whose peak counts.
    pub(crate) cell: u64,
    pub(crate) peak_end: u64,
    /// First cell of the loudest 10 ms.
    pub(crate) loudest: u64,
    /// Cell of the next onset; `u64::MAX` without one.
    pub(crate) next: u64,
}

/// Finds and measures hits in a stream of cells.
#[derive(Clone, Debug)]
pub(crate) struct HitMeter {
    detector: OnsetDetector,
    onsets: [Onset; ONSETS],
    /// Cell near which an onset is certain, and not yet placed.
    certain: Option<u64>,
    /// Onsets found since reset.
    found: u64,
    /// Onsets measured (or dropped as too weak) since reset.
    done: u64,
    /// Hits given out since reset.
    given: u64,
    /// The onset being measured, a piece at a time.
    begun: Option<Begun>,
    cell_frames: u64,
    rate_hz: f64,
}

/// An onset whose level is known, and what is known of its hit so far.
#[derive(Clone, Copy, Debug)]
struct Begun {
    number: u64,
    onset: Onset,
    /// Cell of the next onset; `u64::MAX` without one.
    next: u64,
    level: f64,
    loudest: u64,
    /// Mean power of what surrounds it.
    bed: Option<f64>,
    /// Contrast through a small speaker, dB.
    small_contrast_db: Option<f64>,
}

/// Most cells that an onset waits to be placed, so that this falls beside no other heavy work.
const MOST_WAITED: u64 = 4;

/// Cells after an onset when its surroundings are known and every onset in them is certain.
const READY_CELLS: u64 = t::SURROUND_AFTER_MS as u64 + DELAY_CELLS + t::PLACE_BEFORE_CELLS;

impl HitMeter {
    /// `cell_frames`: frames in a cell.
    pub(crate) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        Self {
            detector: OnsetDetector::new(rate_hz, cell_frames as f64 / rate_hz),
            onsets: [Onset::default(); ONSETS],
            certain: None,
            found: 0,
            done: 0,
            given: 0,
            begun: None,
            cell_frames: cell_frames as u64,
            rate_hz,
        }
    }

    /// Takes note of the newest cell. An onset waits until it `may` be placed; gives whether one
    /// was, of which [`Self::work`] makes a hit.
    #[inline(never)]
    pub(crate) fn cell(&mut self, cells: &Cells, may: bool) -> bool {
        // Certain onsets lie further apart than one waits.
        self.certain = self.detector.cell(cells).or(self.certain);
        let due = |candidate: u64| cells.count() >= candidate + DELAY_CELLS + MOST_WAITED;
        let placed = self.certain.filter(|&candidate| may || due(candidate));
        if let Some(candidate) = placed {
            self.place(cells, candidate);
        }
        placed.is_some()
    }

    /// Places the onset that is certain near the cell `candidate`.
    fn place(&mut self, cells: &Cells, candidate: u64) {
        self.certain = None;
        let onset = self.detector.place(cells, candidate);
        // Placing can move two neighbours onto one moment: the first stands.
        let known = self.found > 0
            && onset.cell() < self.onset(self.found - 1).cell() + t::ONSET_SPACING_CELLS / 2;
        if !known {
            self.onsets[(self.found % ONSETS as u64) as usize] = onset;
            self.found += 1;
        }
    }

    /// Whether there is a hit to work on.
    pub(crate) fn has_work(&self, cells: &Cells) -> bool {
        let ready = || cells.count() >= self.onset(self.done).cell() + READY_CELLS;
        // One that waits to be placed may lie in the surroundings.
        self.begun.is_some() || (self.done < self.found && self.certain.is_none() && ready())
    }

    /// Does a piece of the work on the next hit, where there is one; gives the hit after the last.
    #[inline(never)]
    pub(crate) fn work(&mut self, cells: &Cells) -> Option<MeasuredHit> {
        if self.begun.is_some() {
            return self.go_on(cells);
        }
        if self.has_work(cells) {
            self.begun = Some(self.begin(cells));
        }
        None
    }

    /// Measures the next waiting onset with what is there, for the end of a programme.
    /// `None` once no onset waits or the onset was too weak: call until [`Self::waiting`] is 0.
    pub(crate) fn finish_next(&mut self, cells: &Cells) -> Option<MeasuredHit> {
        if let Some(candidate) = self.certain {
            self.place(cells, candidate);
        }
        if self.begun.is_none() && self.done < self.found {
            self.begun = Some(self.begin(cells));
        }
        while self.begun.is_some() {
            if let Some(measured) = self.go_on(cells) {
                return Some(measured);
            }
        }
        None
    }

    /// Onsets certain and not yet measured.
    pub(crate) fn waiting(&self) -> u64 {
        let (certain, begun) = (self.certain.is_some(), self.begun.is_some());
        self.found - self.done + u64::from(certain) + u64::from(begun)
    }

    /// Mean weighted power of what surrounds the onset `number` in another stream's cells, which
    /// lie where this stream's lie; 0 once the onset is forgotten.
    pub(crate) fn bed_in(&self, cells: &Cells, number: u64) -> f64 {
        let oldest = self.found.saturating_sub(ONSETS as u64);
        if number < oldest {
            return 0.0;
        }
        self.bed(cells, number)
    }

    fn onset(&self, number: u64) -> &Onset {
        &self.onsets[(number % ONSETS as u64) as usize]
    }

    /// Takes the next waiting onset, and finds its level.
    fn begin(&mut self, cells: &Cells) -> Begun {
        let number = self.done;
        self.done += 1;
        let next = if number + 1 < self.found { self.onset(number + 1).cell() } else { u64::MAX };
        let onset = Onset { micro: first_touch(cells, self.onset(number).micro, next) };
        self.onsets[(number % ONSETS as u64) as usize] = onset;
        let start = onset.cell();

        let (level, loudest) = surround::level(cells, start);
        Begun { number, onset, next, level, loudest, bed: None, small_contrast_db: None }
    }

    /// Does the next piece on the onset that is begun; gives its hit after the last.
    fn go_on(&mut self, cells: &Cells) -> Option<MeasuredHit> {
        let mut begun = self.begun.take()?;
        match (begun.bed, begun.small_contrast_db) {
            (None, _) => begun.bed = Some(self.bed(cells, begun.number)),
            (_, None) => {
                let small = surround::Small(cells);
                let (level, _) = surround::level(&small, begun.onset.cell());
                let bed = self.bed(&small, begun.number);
                let floor = f64::from(t::POWER_FLOOR);
                begun.small_contrast_db =
                    Some(surround::contrast_db(level.max(floor), bed.max(floor)));
            }
            // Too weak an onset is no hit, and nothing is left of it.
            (Some(bed), Some(small_contrast_db)) => {
                return self.measured(cells, &begun, bed, small_contrast_db);
            }
        }
        self.begun = Some(begun);
        None
    }

    /// Mean power of what surrounds the onset `number`.
    fn bed<W: surround::Weighted>(&self, powers: &W, number: u64) -> f64 {
        let oldest = self.found.saturating_sub(ONSETS as u64);
        surround::bed(powers, number, oldest..self.found, |n| self.onset(n).cell())
    }

    /// The hit of that onset; `None` where it was too weak for one.
    fn measured(
        &mut self,
        cells: &Cells,
        begun: &Begun,
        bed: f64,
        small_contrast_db: f64,
    ) -> Option<MeasuredHit> {
        let Begun { number, onset, next, level, loudest, .. } = *begun;
        let start = onset.cell();
        let level_lufs = lufs(level);
        let bed_lufs = lufs(surround::capped(level, bed));
        let contrast_db = surround::contrast_db(level, bed);
        if level_lufs.is_nan()
            || level_lufs < t::ABSOLUTE_GATE_LUFS
            || contrast_db < t::HIT_CONTRAST_DB
        {
            return None;
        }

        let end = next.min(start + t::HIT_PEAK_MS as u64);
        let peak = cells.range(start, end).map(|(_, cell)| cell.peak).fold(0.0f32, f32::max);
        // The onset lies somewhere in its micro-cell: the middle is off by an eighth of a
        // millisecond at most.
        let frame = (2 * onset.micro + 1) * self.cell_frames / (2 * MICRO as u64);
        let hit = Hit {
            index: self.given,
            frame,
            time_s: frame as f64 / self.rate_hz,
            true_peak_dbtp: magnitude_db(f64::from(peak)),
            level_lufs,
            bed_lufs,
            contrast_db,
            attack_ms: self.attack_ms(cells, onset),
            band_dbfs: band_levels(cells, loudest),
            small_contrast_db,
            lost_db: None,
            before_peak_dbtp: None,
            reduction_db: None,
        };
        self.given += 1;
        Some(MeasuredHit {
            hit,
            number,
            micro: onset.micro,
            free: self.free(number),
            cell: start,
            peak_end: end,
            loudest,
            next,
        })
    }

    /// Which frames of the spectrum of what surrounds the onset `number` hold no start of another.
    fn free(&self, number: u64) -> [bool; FRAMES - 1] {
        let start = self.onset(number).cell() as i64;
        let cells = |s: f64| (s * 1e3).round() as i64;
        let (starts, long) = (starts_s(self.rate_hz), cells(frame_s(self.rate_hz)));
        let known = self.found.saturating_sub(ONSETS as u64)..self.found;
        std::array::from_fn(|frame| {
            let from = start + cells(starts[frame + 1]);
            known.clone().filter(|&other| other != number).all(|other| {
                let at = self.onset(other).cell() as i64;
                at + t::OTHER_HIT_MS as i64 <= from || at - 2 >= from + long
            })
        })
    }

    /// From the onset to the end of the first millisecond within 3 dB of the strongest one.
    fn attack_ms(&self, cells: &Cells, onset: Onset) -> f64 {
        let start = onset.cell();
        let end = start + t::HIT_LEVEL_MS as u64;
        let strongest =
            cells.range(start, end).map(|(_, cell)| cell.weighted).fold(0.0f32, f32::max);
        let reached = cells
            .range(start, end)
            .find(|(_, cell)| cell.weighted >= strongest * 0.5)
            .map_or(start, |(at, _)| at);
        let micros = (reached + 1) * MICRO as u64 - onset.micro;
        micros as f64 * self.cell_frames as f64 / MICRO as f64 / self.rate_hz * 1e3
    }

    pub(crate) fn reset(&mut self) {
        self.detector.reset();
        self.certain = None;
        self.found = 0;
        self.done = 0;
        self.given = 0;
        self.begun = None;
    }
}

/// The onset found at `micro`, moved on to the first micro-cell within 30 dB of the strongest one
/// of the hit: handling noise ahead of a stroke in silence is no part of it. Where anything else
/// sounds the onset stays where it is. It stays ahead of the cell `next` of the next onset.
fn first_touch(cells: &Cells, micro: u64, next: u64) -> u64 {
    let power = |number: u64| cells.micro(number).iter().sum::<f32>();
    let end = (micro + t::HIT_PEAK_MS as u64 * MICRO as u64).min(cells.count() * MICRO as u64);
    let strongest = (micro..end).map(power).fold(0.0f32, f32::max);
    let reach = end
        .min(micro + t::PLACE_BEFORE_CELLS * MICRO as u64)
        .min(next.saturating_mul(MICRO as u64));
    (micro..reach).find(|&number| power(number) >= strongest * t::TOUCH_SHARE).unwrap_or(micro)
}

/// Level of each band over the 10 ms from cell `from`, dBFS.
pub(crate) fn band_levels(cells: &Cells, from: u64) -> [f64; BANDS] {
    let mut sum = [0.0f64; BANDS];
    let mut count = 0u32;
    for (_, cell) in cells.range(from, from + 10) {
        for (sum, power) in sum.iter_mut().zip(cell.bands) {
            *sum += f64::from(power);
        }
        count += 1;
    }
    sum.map(|sum| power_db((sum / f64::from(count.max(1))).max(1e-20)))
}

#[cfg(test)]
mod tests;

//! Where the notes and strokes of one part start.
//!
//! Three steps on the powers of the [`Bank`], all causal with a fixed delay. *Look*: the
//! [`evidence`] around a moment, every fourth millisecond, and next to those where an onset is
//! likely. *Judge*: a small network gives the odds that a note starts there; a local maximum over
//! even odds is an onset. *Place*: around it, the quarter millisecond that best splits the bands into
//! two stretches of constant power (change point of the variance; J. Maeda 1985), rises only; and
//! after a pause, the first sign ahead of it.
//!
//! A rule of thumb on rises, as the detector for mixes has it, fails on single parts: a low string
//! gives a pulse each period, which looks like a row of onsets, and a saturated chord struck again
//! is no louder than before.

use super::bank::{BANDS, Bank, Powers, Quarters};
use super::evidence::{AFTER, BEFORE, OnsetEvidence, evidence};
use super::judge;
use crate::Config;
use crate::cells::MICRO;
use crate::loudness::lufs;
use crate::onset::change_point;
use crate::thresholds as t;

/// Cells kept: enough for the evidence and for the placing, a power of two.
const RING: usize = 128;
/// Smallest distance of two onsets of a part, cells. Ours: thirty-seconds at 240 beats a minute
/// lie 31 ms apart.
const SPACING: usize = 24;
/// Log odds over which a moment is an onset. Ours: even.
const LEAST_ODDS: f32 = 0.0;
/// Every so many moments one is judged at any rate, cells. Ours: the odds around a note are high for
/// 4 ms or more.
const STRIDE: u64 = 4;
/// Log odds of such a moment from which its neighbours are judged too. Ours: on the sessions under test
/// every kind of part then scores as with all moments judged, and three in ten are.
const LIKELY: f32 = -5.0;
/// Cells before and after a found moment in which its steepest rise is looked for. Ours: the odds tell
/// a start to a millisecond; further off, a touch of the string that an amplifier lifts can be steeper.
const STEEPEST: u64 = 2;
/// Cells ahead of the steepest rise in which the first sign of it is looked for. Ours: a soft pluck has it
/// 3 to 4 ms ahead.
const TOUCH: u64 = 6;
/// Share of what a note reaches that is the first sign of it, power. Ours: -20 dB, as a softly plucked
/// string has it milliseconds ahead of its steepest rise.
const SIGN: f32 = 0.01;
/// Quarters of a cell ahead of that sign in which there was none. Ours: less than that a low string's
/// swing leaves by itself.
const QUIET: u64 = 6;
/// Cells in which a note reaches what it does. Ours.
const REACHED: usize = 20;
/// Growth of power, going back from the rise, that belongs to an earlier note. Ours: 2 dB.
const EARLIER: f32 = 1.5;
/// Time constant of the bands' slow means, s. Ours.
const SLOW_S: f64 = 3.0;

/// An onset of a part: the physical start of a note or stroke.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartOnset {
    /// Frame of the onset since reset.
    pub frame: u64,
    /// The same in seconds.
    pub time_s: f64,
    /// How sure the onset is: natural logarithm of its odds, over 0.
    pub strength: f32,
    /// K-weighted level of the loudest 10 ms in the onset's first 30 ms, LUFS.
    pub level_lufs: f32,
}

impl PartOnset {
    /// The same, counted from `frames` frames earlier.
    pub(super) fn later(&self, frames: u64, config: Config) -> Self {
        let frame = self.frame + frames;
        Self { frame, time_s: frame as f64 / config.sample_rate_hz, ..*self }
    }
}

/// Finds the onsets of a part.
#[derive(Debug)]
pub(super) struct Picker {
    /// The last cells, each written twice, [`RING`] apart, so that a window is one slice.
    cells: Vec<Powers>,
    micro: Vec<Quarters>,
    weighted: Vec<f32>,
    /// Log odds of the last moments, by the number of the cell that starts there.
    odds: [f32; RING],
    slow: Powers,
    count: u64,
    stride: u64,
    renew: f32,
    freedom: Powers,
    cell_frames: usize,
    rate_hz: f64,
}

impl Picker {
    /// `cell_frames`: frames in a cell. Allocates.
    pub(super) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        let cell_s = cell_frames as f64 / rate_hz;
        Self {
            cells: vec![[0.0; BANDS]; 2 * RING],
            micro: vec![[[0.0; BANDS]; MICRO]; RING],
            weighted: vec![0.0; RING],
            odds: [f32::NEG_INFINITY; RING],
            slow: [0.0; BANDS],
            count: 0,
            stride: STRIDE,
            renew: (cell_s / SLOW_S) as f32,
            freedom: Bank::widths_hz().map(|hz| (2.0 * hz * cell_s / MICRO as f64) as f32),
            cell_frames,
            rate_hz,
        }
    }

    /// Judges every moment from now on.
    pub(super) fn judge_every_moment(&mut self) {
        self.stride = 1;
    }

    /// Takes the next cell: the [`Bank`]'s powers and the weighted power; gives the onset that it
    /// makes certain. `look` is shown the evidence of each judged moment, by the number of the cell
    /// that starts there.
    pub(super) fn cell(
        &mut self,
        micro: Quarters,
        weighted: f32,
        look: &mut dyn FnMut(u64, &OnsetEvidence),
    ) -> Option<PartOnset> {
        let mut cell = [0.0; BANDS];
        for powers in &micro {
            for band in 0..BANDS {
                cell[band] += powers[band] / MICRO as f32;
            }
        }
        let at = slot(self.count);
        self.cells[at] = cell;
        self.cells[at + RING] = cell;
        self.micro[at] = micro;
        self.weighted[at] = weighted;
        self.count += 1;
        // A true mean until the time constant is full.
        let renew = self.renew.max(1.0 / self.count as f32);
        for band in 0..BANDS {
            self.slow[band] += renew * (cell[band] - self.slow[band]);
        }
        let moment = self.count.checked_sub(AFTER as u64)?;
        self.judge(moment, look);
        let candidate = moment.checked_sub(SPACING as u64)?;
        self.is_onset(candidate).then(|| self.onset(candidate))
    }

    /// Goes on with silence, until the last onset of a passage is certain.
    pub(super) fn finish(&mut self, give: &mut dyn FnMut(PartOnset)) {
        for _ in 0..AFTER + SPACING {
            if let Some(onset) = self.cell(Quarters::default(), 0.0, &mut |_, _| {}) {
                give(onset);
            }
        }
    }

    /// Works out the odds of the moments that are worth it, up to the newest.
    fn judge(&mut self, moment: u64, look: &mut dyn FnMut(u64, &OnsetEvidence)) {
        let (at, after) = (slot(moment), moment % self.stride);
        self.odds[at] = f32::NEG_INFINITY;
        let due = after == 0;
        if due || self.odds[slot(moment - after)] > LIKELY {
            self.odds[at] = self.odds_at(moment, look);
        }
        if due && self.odds[at] > LIKELY {
            for before in moment.saturating_sub(self.stride - 1)..moment {
                if self.odds[slot(before)] == f32::NEG_INFINITY {
                    self.odds[slot(before)] = self.odds_at(before, look);
                }
            }
        }
    }

    /// Log odds that a note starts at the start of that cell, none of a window outside the ring.
    fn odds_at(&self, moment: u64, look: &mut dyn FnMut(u64, &OnsetEvidence)) -> f32 {
        let from = slot(moment + (RING - BEFORE) as u64);
        let Some(window) = self.cells[from..].first_chunk() else { return f32::NEG_INFINITY };
        let evidence = evidence(window, &self.slow);
        look(moment, &evidence);
        judge::log_odds(&evidence)
    }

    /// Whether the odds at a moment are over the limit and the largest around it.
    fn is_onset(&self, candidate: u64) -> bool {
        let odds = self.odds[slot(candidate)];
        let first = candidate.saturating_sub(SPACING as u64);
        odds > LEAST_ODDS
            && (first..=candidate + SPACING as u64).all(|other| {
                let beside = self.odds[slot(other)];
                // The first of equals wins.
                beside < odds || (beside == odds && other >= candidate)
            })
    }

    fn onset(&self, candidate: u64) -> PartOnset {
        let micro = self.place(candidate);
        // The middle of the quarter millisecond is off by an eighth at most.
        let frame = (2 * micro + 1) * self.cell_frames as u64 / (2 * MICRO as u64);
        let start = micro / MICRO as u64;
        let first = start..start + t::HIT_LEVEL_MS as u64;
        PartOnset {
            frame,
            time_s: frame as f64 / self.rate_hz,
            strength: self.odds[slot(candidate)],
            level_lufs: level_lufs(
                first.map(
                    |number| {
                        if number < self.count { self.weighted[slot(number)] } else { 0.0 }
                    },
                ),
            ),
        }
    }

    /// The micro-cell at whose start the note begins, around the start of the cell `candidate`.
    fn place(&self, candidate: u64) -> u64 {
        let micro = MICRO as u64;
        let from = candidate.saturating_sub(STEEPEST) * micro;
        let to = (candidate + STEEPEST) * micro;
        let powers = |number: u64| self.micro[slot(number / micro)][(number % micro) as usize];
        let steepest = change_point(from..to, &self.freedom, powers).unwrap_or(candidate * micro);
        self.first_sign(steepest).unwrap_or(steepest)
    }

    /// The micro-cell ahead of the steepest rise at which the first of the note is heard, after a
    /// pause: `None` where something else still sounds. The lowest band is left out, since it
    /// swings within the time that is looked at.
    fn first_sign(&self, steepest: u64) -> Option<u64> {
        let micro = MICRO as u64;
        let power = |number: u64| -> f32 {
            let powers = self.micro[slot(number / micro)][(number % micro) as usize];
            powers[1..].iter().sum()
        };
        let reached = steepest..steepest + REACHED as u64 * micro;
        let sign = SIGN * reached.map(power).fold(0.0, f32::max);
        let mut least = f32::INFINITY;
        for number in (steepest.saturating_sub(TOUCH * micro)..steepest).rev() {
            let now = power(number);
            if now < sign {
                let pause = number.saturating_sub(QUIET)..number;
                return pause.into_iter().all(|number| power(number) < sign).then_some(number + 1);
            }
            least = least.min(now);
            if now > EARLIER * least {
                return None;
            }
        }
        None
    }

    pub(super) fn reset(&mut self) {
        self.cells.fill([0.0; BANDS]);
        self.micro.fill([[0.0; BANDS]; MICRO]);
        self.weighted.fill(0.0);
        self.odds = [f32::NEG_INFINITY; RING];
        self.slow = [0.0; BANDS];
        self.count = 0;
    }
}

fn slot(number: u64) -> usize {
    (number % RING as u64) as usize
}

/// Level of an onset, LUFS: the loudest 10 ms of `weighted`, the powers of its first 30 ms.
fn level_lufs(weighted: impl Iterator<Item = f32> + Clone) -> f32 {
    let (mut lag, mut sum, mut most) = (weighted.clone(), 0.0f32, 0.0f32);
    for (number, power) in weighted.enumerate() {
        sum += power;
        if number >= 10 {
            sum -= lag.next().unwrap_or(0.0);
        }
        most = most.max(sum);
    }
    lufs(f64::from(most.max(1e-12)) / 10.0) as f32
}

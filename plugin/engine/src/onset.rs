//! Onset detector: where a rise in band power starts, to a fraction of a millisecond.
//!
//! Two steps, both causal. *Find*, with a fixed delay: for each millisecond the rise of each
//! band's power, dB, from the milliseconds before to the milliseconds after; the weighted sum has
//! a local maximum at an onset. *Place*: around it, the moment that best splits the quarter
//! milliseconds into two stretches of constant power (maximum likelihood change point of the
//! variance of Gaussian noise; the picker of J. Maeda 1985 for seismic arrivals), all bands
//! together, each with the degrees of freedom that its bandwidth gives.

use std::ops::Range;

use wide::f32x4;

use crate::bands::BANDS;
use crate::cells::{Cells, MICRO};
use crate::lanes::{LANES, sum};
use crate::thresholds as t;

/// A found onset.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Onset {
    /// Micro-cell at whose start the onset lies, counted since reset.
    pub(crate) micro: u64,
}

impl Onset {
    /// The cell that holds the onset.
    pub(crate) fn cell(&self) -> u64 {
        self.micro / MICRO as u64
    }
}

/// Length of the memory: twice the spacing and the centre, rounded up to a power of two.
const MEMORY: usize = 64;

/// Finds onsets in a stream of cells.
#[derive(Clone, Debug)]
pub(crate) struct OnsetDetector {
    /// Strengths of the last milliseconds, by cell number.
    strength: [f32; MEMORY],
    /// Powers of each band in the last milliseconds, twice in a row, so that no stretch of them
    /// straddles the end.
    recent: [[f32; 2 * MEMORY]; BANDS],
    /// Slow mean of each band's power: the ground that a rise must leave.
    slow: [f32; BANDS],
    /// Degrees of freedom of a quarter millisecond, a band.
    freedom: [f32; BANDS],
    /// Part of the slow mean that one cell renews.
    renew: f32,
}

/// Cells after a moment that its strength looks at.
const AHEAD: u64 = t::RISE_AFTER_CELLS[0];
/// Cells after an onset before it can be told: look-ahead and spacing, which the placing window fits
/// into.
pub(crate) const DELAY_CELLS: u64 = AHEAD + t::ONSET_SPACING_CELLS;

impl OnsetDetector {
    pub(crate) fn new(rate_hz: f64, cell_s: f64) -> Self {
        let nyquist = rate_hz / 2.0;
        // A band of width B holds 2 B T independent values in a time T.
        let freedom = |from: f64, to: f64| {
            (2.0 * (to.min(nyquist) - from).max(0.0) * cell_s / MICRO as f64) as f32
        };
        Self {
            strength: [0.0; MEMORY],
            recent: [[0.0; 2 * MEMORY]; BANDS],
            slow: [0.0; BANDS],
            freedom: [
                freedom(0.0, t::LOW_MID_HZ),
                freedom(t::LOW_MID_HZ, t::MID_HIGH_HZ),
                freedom(t::MID_HIGH_HZ, t::ONSET_TOP_HZ),
            ],
            renew: (cell_s / t::ONSET_GROUND_S) as f32,
        }
    }

    /// Takes note of the newest cell; gives the cell near which it makes an onset certain, if any,
    /// for [`Self::place`].
    #[inline(never)]
    pub(crate) fn cell(&mut self, cells: &Cells) -> Option<u64> {
        let newest = cells.count() - 1;
        let bands = cells.get(newest).bands;
        for band in 0..BANDS {
            self.slow[band] += self.renew * (bands[band] - self.slow[band]);
            let slot = newest as usize % MEMORY;
            self.recent[band][slot] = bands[band];
            self.recent[band][slot + MEMORY] = bands[band];
        }
        let centre = (newest + 1).checked_sub(AHEAD)?;
        self.strength[centre as usize % MEMORY] = self.rise(centre);
        let candidate = centre.checked_sub(t::ONSET_SPACING_CELLS)?;
        let strength = self.strength[candidate as usize % MEMORY];
        if strength < t::ONSET_STRENGTH_DB {
            return None;
        }
        let from = candidate.saturating_sub(t::ONSET_SPACING_CELLS);
        for number in from..=centre {
            let other = self.strength[number as usize % MEMORY];
            // The first of equal strengths wins.
            if other > strength || (other == strength && number < candidate) {
                return None;
            }
        }
        Some(candidate)
    }

    /// Weighted rise of band power at the start of cell `centre`, dB, summed over bands.
    fn rise(&self, centre: u64) -> f32 {
        let mean = |band: usize, from: u64, length: u64| {
            let from = from as usize % MEMORY;
            sum(&self.recent[band][from..from + length as usize]) / length as f32
        };
        let before: [f32; BANDS] = std::array::from_fn(|band| {
            let length = t::RISE_BEFORE_CELLS[band];
            // Ahead of the first cell there was silence, which lies at the ring's end still.
            mean(band, (centre + MEMORY as u64) - length, length)
        });
        let after: [f32; BANDS] =
            std::array::from_fn(|band| mean(band, centre, t::RISE_AFTER_CELLS[band]));
        let low = before[0].max(after[0]);
        let mut rise = 0.0;
        for band in 0..BANDS {
            let ground =
                self.slow[band] * t::ONSET_GROUND_SHARE + low * t::LOW_LEAK[band] + t::POWER_FLOOR;
            let db = 10.0 * ((after[band] + ground) / (before[band] + ground)).log10();
            rise += t::RISE_WEIGHT[band] * db.clamp(0.0, t::RISE_MOST_DB);
        }
        rise
    }

    /// The onset around the cell `candidate`: the micro-cell at whose start power changes most.
    #[inline(never)]
    pub(crate) fn place(&self, cells: &Cells, candidate: u64) -> Onset {
        let micro = MICRO as u64;
        let from = candidate.saturating_sub(t::PLACE_BEFORE_CELLS).max(cells.oldest()) * micro;
        let to = (candidate + t::PLACE_AFTER_CELLS).min(cells.count()) * micro;
        let split = change_point(from..to, &self.freedom, |number| cells.micro(number));
        Onset { micro: split.unwrap_or(candidate * micro) }
    }

    pub(crate) fn reset(&mut self) {
        self.strength = [0.0; MEMORY];
        self.recent = [[0.0; 2 * MEMORY]; BANDS];
        self.slow = [0.0; BANDS];
    }
}

/// The moment that best splits the powers of `window` into two stretches of constant power, the
/// second the louder one (maximum likelihood; see the module's head). `freedom`: degrees of freedom
/// of one moment, a band. `None` in a window of fewer than two moments.
pub(crate) fn change_point<const B: usize>(
    window: Range<u64>,
    freedom: &[f32; B],
    powers: impl Fn(u64) -> [f32; B],
) -> Option<u64> {
    let mut total = [0.0f32; B];
    for number in window.clone() {
        let powers = powers(number);
        for band in 0..B {
            total[band] += powers[band];
        }
    }
    let length = (window.end - window.start) as f32;
    // Power under a millionth of the window's mean is taken as silence: the logarithm of nothing
    // must not decide.
    let floor = total.map(|sum| sum / length * t::PLACE_FLOOR + t::POWER_FLOOR);
    let whole: [f32; B] =
        std::array::from_fn(|band| length * (total[band] / length).max(floor[band]).ln());
    let mut before = [0.0f32; B];
    let mut best = (f32::NEG_INFINITY, None);
    let mut first = window.start;
    // Four moments side by side: logarithms are most of the work.
    while first < window.end {
        let left: [f32; LANES] = std::array::from_fn(|k| (first - window.start + k as u64) as f32);
        let left = f32x4::new(left);
        let right = f32x4::splat(length) - left;
        let mut sums = [[0.0f32; LANES]; B];
        for lane in 0..LANES {
            for band in 0..B {
                sums[band][lane] = before[band];
            }
            let number = first + lane as u64;
            if number < window.end {
                let powers = powers(number);
                for band in 0..B {
                    before[band] += powers[band];
                }
            }
        }
        let mut likelihood = f32x4::ZERO;
        for band in 0..B {
            let floor = f32x4::splat(floor[band]);
            let sum = f32x4::new(sums[band]);
            let low = (sum / left).fast_max(floor);
            let high = ((f32x4::splat(total[band]) - sum) / right).fast_max(floor);
            let gain = f32x4::splat(whole[band]) - left * low.ln() - right * high.ln();
            likelihood += high.simd_gt(low) & (f32x4::splat(freedom[band]) * gain);
        }
        for (lane, likelihood) in likelihood.to_array().into_iter().enumerate() {
            let number = first + lane as u64;
            if number > window.start && number < window.end && likelihood > best.0 {
                best = (likelihood, Some(number));
            }
        }
        first += LANES as u64;
    }
    best.1
}

//! What a change of the parts would do to the hits: the common ground of all counterfactual costs.
//!
//! The parts' powers, cell by cell, add up to the mix (uncorrelated sum, see [`sum`]). A cause is
//! taken out by changing the powers of one or several parts; the hit contrast of the changed sum
//! less that of the sum as it is, at the same hits, is the cause's cost.

use super::{HitGain, PartRole, PartTrack, gain, sum};
use crate::contrast::quantile;
use crate::thresholds::arrangement as l;
use crate::{Cost, surround};

/// The parts on one timeline, and the hits in them. Times are in cells from the earliest start.
#[derive(Clone, Debug)]
pub struct Arrangement {
    /// Length of a cell, ms.
    cell_ms: f64,
    /// Time of the first cell on the timeline of the tracks, s.
    start_s: f64,
    /// Cell at which each part starts.
    starts: Vec<usize>,
    /// K-weighted power of each part, all of one length.
    powers: Vec<Vec<f32>>,
    /// Onsets of each part, cells.
    onsets: Vec<Vec<f64>>,
    /// Role of each part.
    roles: Vec<PartRole>,
    sum: Vec<f32>,
    /// Every hit, cells.
    hits: Vec<f64>,
    /// The main hits among them, by number.
    main: Vec<usize>,
    /// Where contrast is measured, and what ends what surrounds it: the hits, or those of the mix.
    places: Places,
    /// Whether these are the hits of the parts.
    own_places: bool,
    /// Hit contrast of the sum at the places that count, dB.
    contrast_db: Vec<f64>,
}

/// Where contrast is measured.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places {
    /// Every stroke that ends what surrounds a hit, cells, in order of time.
    pub strokes: Vec<u64>,
    /// Those that count for a cost, by number.
    pub counted: Vec<usize>,
}

impl Arrangement {
    /// Lays the parts on one timeline. The hits are those of the drums; of all parts together
    /// where there are no drums. Allocates.
    #[must_use]
    pub fn new(tracks: &[PartTrack]) -> Self {
        let all: Vec<&PartTrack> = tracks.iter().collect();
        let sum = sum::weighted(&all);
        let first = tracks.iter().map(|track| track.start_frame).min().unwrap_or(0);
        let mut powers = Vec::new();
        let (mut onsets, mut starts) = (Vec::new(), Vec::new());
        for track in tracks {
            let frames = track.cell_frames.max(1) as f64;
            let start = (track.start_frame - first) as f64 / frames;
            let mut power = vec![0.0; sum.len()];
            let from = start.round() as usize;
            for (power, cell) in power[from..].iter_mut().zip(&track.cells) {
                *power = cell.weighted;
            }
            powers.push(power);
            starts.push(from);
            onsets.push(track.strokes().map(|o| start + o.frame as f64 / frames).collect());
        }
        let cell_ms = tracks.first().map_or(1.0, |track| track.cell_s() * 1e3);
        let rate_hz = tracks.first().map_or(1.0, |track| track.sample_rate_hz);
        let roles: Vec<_> = tracks.iter().map(|track| track.role).collect();
        let mut arrangement = Self {
            cell_ms,
            start_s: first as f64 / rate_hz,
            starts,
            powers,
            onsets,
            roles,
            sum,
            hits: Vec::new(),
            main: Vec::new(),
            places: Places::default(),
            own_places: true,
            contrast_db: Vec::new(),
        };
        arrangement.find_hits();
        arrangement
    }

    /// Counts costs at these places. Too few of them change nothing; gives whether they were enough.
    pub fn count_at(&mut self, places: Places) -> bool {
        if places.counted.len() < l::LEAST_MAIN_HITS {
            return false;
        }
        self.places = places;
        self.own_places = false;
        self.contrast_db = self.contrasts_of(&self.sum);
        true
    }

    fn find_hits(&mut self) {
        let drums = self.has_drums();
        let carries = |role: &PartRole| !drums || *role == PartRole::Drums;
        let mut hits: Vec<f64> = Vec::new();
        let mut heard = vec![0.0f32; self.sum.len()];
        for (part, _) in self.roles.iter().enumerate().filter(|(_, role)| carries(role)) {
            hits.extend(&self.onsets[part]);
            for (heard, power) in heard.iter_mut().zip(&self.powers[part]) {
                *heard += power;
            }
        }
        hits.sort_by(f64::total_cmp);
        hits.dedup_by(|b, a| (*b - *a) * self.cell_ms < l::SAME_HIT_MS);
        let levels: Vec<f64> =
            hits.iter().map(|hit| surround::level(&heard[..], *hit as u64).0).collect();
        let mut sorted = levels.clone();
        sorted.sort_by(f64::total_cmp);
        if let Some(last) = sorted.len().checked_sub(1) {
            let loud = quantile(&sorted, 0.9).min(sorted[last]);
            let least = loud * 10f64.powf(-l::MAIN_HIT_DB / 10.0);
            self.main = (0..hits.len()).filter(|&n| levels[n] >= least && least > 0.0).collect();
        }
        let strokes = hits.iter().map(|&hit| hit as u64).collect();
        self.places = Places { strokes, counted: self.main.clone() };
        self.hits = hits;
        self.contrast_db = self.contrasts_of(&self.sum);
    }

    /// Whether one of the parts is drums.
    #[must_use]
    pub fn has_drums(&self) -> bool {
        self.roles.contains(&PartRole::Drums)
    }

    /// Length of a cell, ms.
    #[must_use]
    pub fn cell_ms(&self) -> f64 {
        self.cell_ms
    }

    /// Number of parts.
    #[must_use]
    pub fn parts(&self) -> usize {
        self.powers.len()
    }

    /// Role of a part.
    #[must_use]
    pub fn role(&self, part: usize) -> PartRole {
        self.roles[part]
    }

    /// Cell at which a part starts.
    #[must_use]
    pub fn start(&self, part: usize) -> usize {
        self.starts[part]
    }

    /// K-weighted power of a part, by cell.
    #[must_use]
    pub fn power(&self, part: usize) -> &[f32] {
        &self.powers[part]
    }

    /// K-weighted power of all parts together, by cell.
    #[must_use]
    pub fn sum(&self) -> &[f32] {
        &self.sum
    }

    /// Onsets of a part, cells, in order of time.
    #[must_use]
    pub fn onsets(&self, part: usize) -> &[f64] {
        &self.onsets[part]
    }

    /// The main hits, by their number among the hits.
    #[must_use]
    pub fn main(&self) -> &[usize] {
        &self.main
    }

    /// A place in cells on the timeline of the tracks, s.
    #[must_use]
    pub fn time_s(&self, cell: f64) -> f64 {
        self.start_s + cell * self.cell_ms * 1e-3
    }

    /// Every hit, cells, in order of time.
    #[must_use]
    pub fn hits(&self) -> &[f64] {
        &self.hits
    }

    /// The main hits, cells, in order of time: those within [`l::MAIN_HIT_DB`] of the loud ones.
    pub fn main_hits(&self) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.main.iter().map(|&n| self.hits[n])
    }

    /// What each hit that counts gets back, where `gains_db` is from [`Self::gains_db`].
    #[must_use]
    pub fn gains_at(&self, gains_db: &[f64]) -> Vec<HitGain> {
        gain::gains(self.counted_s(), gains_db.iter().copied())
    }

    /// Where contrast is measured.
    #[must_use]
    pub fn places(&self) -> &Places {
        &self.places
    }

    /// Time of each hit that counts, s. The main hits keep their fraction of a cell.
    pub(super) fn counted_s(&self) -> Vec<f64> {
        let at = |&n: &usize| {
            if self.own_places { self.hits[n] } else { self.places.strokes[n] as f64 }
        };
        self.places.counted.iter().map(|n| self.time_s(at(n))).collect()
    }

    /// Hit contrast of the sum at each hit that counts, dB.
    #[must_use]
    pub fn contrast_db(&self) -> &[f64] {
        &self.contrast_db
    }

    /// Hit contrast, dB, that comes back at each hit that counts when the parts named in `changes` have
    /// the powers given there.
    #[must_use]
    pub fn gains_db(&self, changes: &[(usize, Vec<f32>)]) -> Vec<f64> {
        let mut changed = self.sum.clone();
        for (part, power) in changes {
            for ((sum, old), new) in changed.iter_mut().zip(&self.powers[*part]).zip(power) {
                // Differences of f32 may end a little under nothing.
                *sum = (*sum + (new - old)).max(0.0);
            }
        }
        let after = self.contrasts_of(&changed);
        after.iter().zip(&self.contrast_db).map(|(after, before)| after - before).collect()
    }

    /// What the hits gain, dB, median over those that count, when a part has `share` of its power. `None`
    /// with fewer than [`l::LEAST_MAIN_HITS`] main hits.
    #[must_use]
    pub fn if_gained_db(&self, part: usize, share: f32) -> Option<f64> {
        if self.main.len() < l::LEAST_MAIN_HITS {
            return None;
        }
        let power = self.powers[part].iter().map(|power| share * power).collect();
        Some(median(&mut self.gains_db(&[(part, power)])))
    }

    /// The cost of a cause: what [`Self::gains_db`] gives back when it is taken out. `None` with
    /// fewer than [`l::LEAST_MAIN_HITS`] main hits.
    #[must_use]
    pub fn cost(&self, changes: &[(usize, Vec<f32>)]) -> Option<Cost> {
        if self.main.len() < l::LEAST_MAIN_HITS {
            return None;
        }
        cost(&self.gains_db(changes))
    }

    fn contrasts_of(&self, power: &[f32]) -> Vec<f64> {
        self.places.contrasts_db(power)
    }
}

/// Where the hits of a mix are, with the strokes of its drums.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Strokes {
    /// Every place, frames of the mix, in order of time.
    pub frames: Vec<u64>,
    /// Places that were found in the mix: its hit there, by number.
    pub found: Vec<Option<usize>>,
    /// The places that count for a cost, by number: those at strokes of the drums; without drums all.
    pub counted: Vec<usize>,
}

impl Strokes {
    /// The `hits` found in a mix, frames in order of time from the first cell of an arrangement, and the
    /// main strokes of its drums. A stroke within [`l::SHARED_MS`] of a hit is that hit.
    #[must_use]
    pub fn new(hits: &[u64], arrangement: &Arrangement, rate_hz: f64) -> Self {
        let cell_s = arrangement.cell_ms() * 1e-3;
        let frame = |cell: f64| (cell * cell_s * rate_hz).max(0.0) as u64;
        let reach = (l::SHARED_MS * 1e-3 * rate_hz) as u64;
        let near = |of: &[u64], at: u64| {
            let after = of.partition_point(|&other| other < at);
            let apart = |n: usize| of.get(n).map_or(u64::MAX, |&other| other.abs_diff(at));
            apart(after).min(after.checked_sub(1).map_or(u64::MAX, apart)) <= reach
        };
        let drums = arrangement.has_drums();
        let struck: Vec<u64> = arrangement.hits().iter().map(|&cell| frame(cell)).collect();
        let mut all: Vec<(u64, Option<usize>)> =
            hits.iter().enumerate().map(|(n, &hit)| (hit, Some(n))).collect();
        if drums {
            let main = arrangement.main_hits().map(frame);
            all.extend(main.filter(|&at| !near(hits, at)).map(|at| (at, None)));
            all.sort_unstable_by_key(|place| place.0);
        }
        let counts = |n: &usize| !drums || all[*n].1.is_none() || near(&struck, all[*n].0);
        let counted = (0..all.len()).filter(counts).collect();
        Self {
            frames: all.iter().map(|place| place.0).collect(),
            found: all.iter().map(|place| place.1).collect(),
            counted,
        }
    }
}

impl Places {
    /// Contrast at each place that counts, dB, as far as there is a hit ([`sum::left_db`]).
    #[must_use]
    pub fn contrasts_db(&self, power: &[f32]) -> Vec<f64> {
        sum::left_db(power, &self.strokes, &self.counted)
    }
}

/// The median of gains over hits, dB, not negative, and its 90 % range by bootstrap over the hits.
/// The median, since hit contrast is one: a cost says what that figure would gain. `None` of none.
#[must_use]
pub fn cost(gains_db: &[f64]) -> Option<Cost> {
    let count = gains_db.len();
    if count == 0 {
        return None;
    }
    let db = median(&mut gains_db.to_vec());
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let mut drawn = vec![0.0; count];
    let mut medians: Vec<f64> = (0..l::BOOTSTRAPS)
        .map(|_| {
            drawn.iter_mut().for_each(|drawn| *drawn = gains_db[random.below(count)]);
            median(&mut drawn)
        })
        .collect();
    medians.sort_by(f64::total_cmp);
    Some(Cost {
        db: db.max(0.0),
        low_db: quantile(&medians, 0.05).max(0.0),
        high_db: quantile(&medians, 0.95).max(0.0),
    })
}

/// The median of some values, which it sorts.
pub(super) fn median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    quantile(values, 0.5)
}

/// A small generator, always from the same seed: the same session reads the same every time.
/// (G. Marsaglia, "Xorshift RNGs", 2003, with a multiplier after S. Vigna 2016.)
struct Random(u64);

impl Random {
    fn below(&mut self, count: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let high = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 32;
        ((high * count as u64) >> 32) as usize
    }
}

#[cfg(test)]
mod tests;

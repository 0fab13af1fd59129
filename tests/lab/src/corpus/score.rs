//! Scores detected onsets against true ones.
//!
//! One-to-one matching with a tolerance as `mir_eval.onset.f_measure` defines it: the largest set
//! of pairs (detected, true) no further apart than the tolerance in which nobody occurs twice.
//! The tolerances are ours; its default of 50 ms is useless here. In one dimension with one
//! tolerance for all, taking the earliest possible partner in order of time finds a largest set,
//! so no general graph matching is needed.

/// Score of a detector.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// Pairs: index of the true onset, index of the detected one, detected less true, s.
    pub pairs: Vec<(usize, usize, f64)>,
    /// True onsets without partner, by index.
    pub missed: Vec<usize>,
    /// Detected onsets without partner, by index.
    pub extra: Vec<usize>,
}

impl Score {
    /// Share of detected onsets that are true; 1 when nothing was detected.
    #[must_use]
    pub fn precision(&self) -> f64 {
        share(self.pairs.len(), self.extra.len())
    }

    /// Share of true onsets that were detected; 1 when there is none.
    #[must_use]
    pub fn recall(&self) -> f64 {
        share(self.pairs.len(), self.missed.len())
    }

    /// Adds the counts of another score; indices stay those of their own lists.
    pub fn join(&mut self, other: Self) {
        self.pairs.extend(other.pairs);
        self.missed.extend(other.missed);
        self.extra.extend(other.extra);
    }

    /// Harmonic mean of both.
    #[must_use]
    pub fn f1(&self) -> f64 {
        let (p, r) = (self.precision(), self.recall());
        if p + r > 0.0 { 2.0 * p * r / (p + r) } else { 0.0 }
    }
}

fn share(good: usize, bad: usize) -> f64 {
    if good + bad == 0 { 1.0 } else { good as f64 / (good + bad) as f64 }
}

/// A true onset: the interval in which honest definitions place it, s. A point has both ends equal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// Earliest definition.
    pub from_s: f64,
    /// Latest definition.
    pub to_s: f64,
}

impl Onset {
    /// An onset at one instant.
    #[must_use]
    pub fn at(time_s: f64) -> Self {
        Self { from_s: time_s, to_s: time_s }
    }

    /// How far `time` lies outside the interval, s: negative before it, positive after it.
    #[must_use]
    pub fn error_s(&self, time: f64) -> f64 {
        (time - self.to_s).max(0.0) + (time - self.from_s).min(0.0)
    }
}

/// Matches true onsets with detected times, s, both in ascending order.
#[must_use]
pub fn score(truth: &[Onset], detected: &[f64], tolerance_s: f64) -> Score {
    let mut score = Score::default();
    let (mut t, mut d) = (0, 0);
    // A time that is exactly on the tolerance counts; the hair covers decimal rounding.
    let tolerance = tolerance_s + 1e-9;
    while t < truth.len() || d < detected.len() {
        match (truth.get(t), detected.get(d)) {
            (Some(a), Some(b)) if a.error_s(*b).abs() <= tolerance => {
                score.pairs.push((t, d, a.error_s(*b)));
                t += 1;
                d += 1;
            }
            (Some(a), Some(b)) if *b < a.from_s => {
                score.extra.push(d);
                d += 1;
            }
            (Some(_), _) => {
                score.missed.push(t);
                t += 1;
            }
            (None, _) => {
                score.extra.push(d);
                d += 1;
            }
        }
    }
    score
}

/// Score of the onsets that matter among others that are allowed: recall over `wanted`; a
/// detection is extra only if no onset of `any` lies within the tolerance.
#[must_use]
pub fn score_among(wanted: &[Onset], any: &[Onset], detected: &[f64], tolerance_s: f64) -> Score {
    let mut result = score(wanted, detected, tolerance_s);
    result
        .extra
        .retain(|&d| !any.iter().any(|a| a.error_s(detected[d]).abs() <= tolerance_s + 1e-9));
    result
}

//! A look-ahead limiter of our own.
//!
//! The wanted gain is held at its minimum over the look-ahead, released, and averaged over the
//! look-ahead: the gain falls along a straight line and never lets a sample over the ceiling. No
//! net delay. Left and right share one gain.

use crate::corpus::Stereo;
use std::collections::VecDeque;

/// Settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limiter {
    /// Look-ahead and attack, ms.
    pub lookahead_ms: f64,
    /// Release time constant, ms.
    pub release_ms: f64,
    /// Time constant of a second, slower release that takes over after long reduction, ms; 0: none.
    pub slow_ms: f64,
}

/// Quick: the release follows every hit.
pub const FAST: Limiter = Limiter { lookahead_ms: 1.5, release_ms: 40.0, slow_ms: 0.0 };
/// Slow: the gain hardly moves between hits.
pub const SLOW: Limiter = Limiter { lookahead_ms: 5.0, release_ms: 250.0, slow_ms: 0.0 };
/// Program-dependent: quick after a lone hit, slow after sustained reduction.
pub const PROGRAM: Limiter = Limiter { lookahead_ms: 3.0, release_ms: 30.0, slow_ms: 600.0 };

impl Limiter {
    /// Limits `input` to `ceiling` (sample peak, linear).
    #[must_use]
    pub fn run(&self, input: &Stereo, ceiling: f32) -> Stereo {
        self.run_with(input, ceiling, 0.0)
    }

    /// The same with a soft knee that wide, dB, on either side of the ceiling.
    #[must_use]
    pub fn run_with(&self, input: &Stereo, ceiling: f32, knee_db: f64) -> Stereo {
        let rate = f64::from(input.rate);
        let ahead = frames(self.lookahead_ms, rate);
        let held = held(&wanted(input, ceiling, knee_db), ahead);
        apply(input, &self.released(&held, rate), ahead)
    }

    /// Lets the held reduction, dB, fall with the release.
    fn released(&self, held: &[f64], rate: f64) -> Vec<f64> {
        let keep = |ms: f64| (-1.0 / (ms * 1e-3 * rate)).exp();
        let fast_keep = keep(self.release_ms);
        let (slow_rise, slow_fall) = (keep(150.0), keep(self.slow_ms.max(1.0)));
        let (mut fast, mut slow) = (0.0_f64, 0.0_f64);
        held.iter()
            .map(|&want| {
                fast = want.max(fast_keep * fast);
                if self.slow_ms > 0.0 {
                    let keep = if fast > slow { slow_rise } else { slow_fall };
                    slow = fast + keep * (slow - fast);
                }
                fast.max(slow)
            })
            .collect()
    }
}

/// Milliseconds as frames, at least one.
pub(super) fn frames(ms: f64, rate: f64) -> usize {
    ((ms * 1e-3 * rate) as usize).max(1)
}

/// Turns `input` down by the reduction, dB, averaged over `ahead` frames.
pub(super) fn apply(input: &Stereo, reduction: &[f64], ahead: usize) -> Stereo {
    let mut out = input.clone();
    let mut sum = 0.0;
    for n in 0..out.len() {
        sum += reduction[n];
        if n >= ahead {
            sum -= reduction[n - ahead];
        }
        let gain = 10_f64.powf(-(sum / ahead.min(n + 1) as f64) / 20.0) as f32;
        out.left[n] *= gain;
        out.right[n] *= gain;
    }
    out
}

/// Reduction that each frame wants, dB; quadratic within `knee_db` of the ceiling.
pub(super) fn wanted(input: &Stereo, ceiling: f32, knee_db: f64) -> Vec<f64> {
    let want = |i: usize| {
        let over = 20.0 * f64::from(input.magnitude(i) / ceiling).max(1e-9).log10();
        if over.abs() < knee_db {
            (over + knee_db).powi(2) / (4.0 * knee_db)
        } else {
            over.max(0.0)
        }
    };
    (0..input.len()).map(want).collect()
}

/// Largest wanted reduction, dB, from each frame to `ahead` frames after it.
pub(super) fn held(want: &[f64], ahead: usize) -> Vec<f64> {
    let mut largest = vec![0.0; want.len()];
    let mut queue: VecDeque<usize> = VecDeque::new();
    for n in (0..want.len()).rev() {
        while queue.back().is_some_and(|&k| want[k] <= want[n]) {
            queue.pop_back();
        }
        queue.push_back(n);
        while queue.front().is_some_and(|&k| k > n + ahead) {
            queue.pop_front();
        }
        largest[n] = queue.front().map_or(0.0, |&k| want[k]);
    }
    largest
}

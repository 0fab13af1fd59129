//! Limiters and clippers of other makes than [`super::limit`] and [`super::clip`], all our own: other
//! releases, other knees, sides apart, bands apart, two in a row. Limiters differ in what they do
//! between hits, and an estimate that has seen one make only takes its ways for what a limiter is.

use super::super::Stereo;
use super::super::audio::db;
use super::limit::{self, Limiter};
use super::{clip, equal, settings};
use rand::Rng;

/// A make with its settings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Make {
    /// Look-ahead, then a hold and a release of so many decibels a second (times ten of them: the
    /// release of a straight line in dB).
    Straight {
        /// Look-ahead, ms.
        lookahead_ms: f64,
        /// Hold, ms.
        hold_ms: f64,
        /// Release, dB a second.
        db_per_s: f64,
    },
    /// Starts so many decibels under the ceiling, rising there a quarter less with each (a quadratic
    /// knee), and is flat as far over it.
    Knee(Limiter, f64),
    /// Left and right each with a gain of its own.
    Apart(Limiter),
    /// Two in a row: the first at a ceiling so many decibels higher.
    Row(Limiter, Limiter, f64),
    /// Below and above a crossover, Hz, each limited to the ceiling, and their sum once more.
    Bands(Limiter, f64),
    /// A soft clipper and a limiter behind it: the curve, and how far it lies over the ceiling, dB.
    SoftThen(Curve, f64, Limiter),
    /// A soft clipper alone.
    Soft(Curve),
    /// No look-ahead: the gain follows what has come out, so that tips go through; attack and release,
    /// ms. What is over the ceiling then is clipped.
    Feedback {
        /// Attack, ms.
        attack_ms: f64,
        /// Release, ms.
        release_ms: f64,
    },
}

/// Memoryless curves that end at 1, unity gain for small signals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Curve {
    /// Arc tangent.
    Atan,
    /// x over the root of 1 + x squared.
    Root,
    /// Sine up to its crest.
    Sine,
    /// 1 - exp(-x).
    Exponential,
}

impl Curve {
    fn at(self, x: f32) -> f32 {
        use std::f32::consts::FRAC_PI_2;
        match self {
            Self::Atan => (x * FRAC_PI_2).atan() / FRAC_PI_2,
            Self::Root => x / (1.0 + x * x).sqrt(),
            Self::Sine => x.clamp(-FRAC_PI_2, FRAC_PI_2).sin(),
            Self::Exponential => x.signum() * (1.0 - (-x.abs()).exp()),
        }
    }

    fn run(self, input: &Stereo, ceiling: f32) -> Stereo {
        let mut out = input.clone();
        out.map(|x| ceiling * self.at(x / ceiling));
        out
    }
}

/// A make and its settings, drawn.
pub fn draw(rng: &mut impl Rng) -> (&'static str, Make) {
    let mut limiter = || settings::limiter(rng);
    let (one, other) = (limiter(), limiter());
    let mut between = |from, to| settings::between(rng, from, to);
    let straight = Make::Straight {
        lookahead_ms: between(0.1, 10.0),
        hold_ms: between(0.1, 30.0),
        db_per_s: between(15.0, 600.0),
    };
    let feedback =
        Make::Feedback { attack_ms: between(0.02, 3.0), release_ms: between(20.0, 500.0) };
    let (knee, over, soft, hz) =
        (between(1.0, 10.0), between(0.5, 5.0), between(0.3, 4.0), between(90.0, 3_000.0));
    let curves = [Curve::Atan, Curve::Root, Curve::Sine, Curve::Exponential];
    let curve = curves[rng.random_range(0..curves.len())];
    match rng.random_range(0..16) {
        0..5 => ("straight", straight),
        5 | 6 => ("knee", Make::Knee(one, knee)),
        7 => ("apart", Make::Apart(one)),
        8..10 => ("row", Make::Row(one, other, over)),
        10 => ("bands", Make::Bands(one, hz)),
        11 => ("soft-then-limit", Make::SoftThen(curve, soft, one)),
        12 | 13 => ("soft", Make::Soft(curve)),
        _ => ("feedback", feedback),
    }
}

impl Make {
    /// Limits `input` to `ceiling` (linear; a soft knee may stay under it).
    #[must_use]
    pub fn run(self, input: &Stereo, ceiling: f32) -> Stereo {
        match self {
            Self::Straight { lookahead_ms, hold_ms, db_per_s } => {
                let rate = f64::from(input.rate);
                let ahead = limit::frames(lookahead_ms, rate);
                let keep = limit::frames(hold_ms, rate) + ahead;
                let fall = db_per_s / rate;
                let held = limit::held(&limit::wanted(input, ceiling, 0.0), keep);
                let mut now = 0.0_f64;
                // Held from `ahead` before a peak to the hold behind it.
                let late = keep - ahead;
                let at = |n: usize| if n >= late { held[n - late] } else { held[0] };
                let reduction: Vec<f64> = (0..input.len())
                    .map(|n| {
                        now = at(n).max(now - fall);
                        now
                    })
                    .collect();
                limit::apply(input, &reduction, ahead)
            }
            Self::Knee(limiter, knee_db) => limiter.run_with(input, ceiling, knee_db),
            Self::Apart(limiter) => {
                let side = |channel: &[f32]| {
                    let both = [channel.to_vec(), channel.to_vec()];
                    let [left, right] = both;
                    limiter.run(&Stereo { rate: input.rate, left, right }, ceiling).left
                };
                Stereo { rate: input.rate, left: side(&input.left), right: side(&input.right) }
            }
            Self::Row(first, second, over_db) => {
                second.run(&first.run(input, ceiling * db(over_db)), ceiling)
            }
            Self::Bands(limiter, hz) => {
                let low = equal::low_pass(input, hz);
                let mut high = input.clone();
                high.add(&low, 0, -1.0, -1.0);
                let mut sum = limiter.run(&low, ceiling * db(-1.0));
                sum.add(&limiter.run(&high, ceiling * db(-1.0)), 0, 1.0, 1.0);
                limit::FAST.run(&sum, ceiling)
            }
            Self::SoftThen(curve, over_db, limiter) => {
                limiter.run(&curve.run(input, ceiling * db(over_db)), ceiling)
            }
            Self::Soft(curve) => curve.run(input, ceiling),
            Self::Feedback { attack_ms, release_ms } => {
                clip::hard(&feedback(input, ceiling, attack_ms, release_ms), ceiling)
            }
        }
    }
}

/// The gain falls while what comes out is over the ceiling and rises while it is under.
fn feedback(input: &Stereo, ceiling: f32, attack_ms: f64, release_ms: f64) -> Stereo {
    let rate = f64::from(input.rate);
    let rise = 1.0 - (-1.0 / (attack_ms * 1e-3 * rate)).exp();
    let keep = (-1.0 / (release_ms * 1e-3 * rate)).exp();
    let mut reduction = 0.0_f64;
    let mut out = input.clone();
    for n in 0..out.len() {
        let gain = 10_f64.powf(-reduction / 20.0) as f32;
        out.left[n] *= gain;
        out.right[n] *= gain;
        let over = 20.0 * f64::from((out.magnitude(n) / ceiling).max(1e-9)).log10();
        reduction = if over > 0.0 { reduction + rise * over } else { reduction * keep };
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    /// Every make lets a quiet tone through as it is but for a soft curve's bend, and none lets a loud
    /// one over the ceiling.
    #[test]
    fn every_make_ends_at_its_ceiling() {
        let tone = |gain: f32| {
            let mut audio = Stereo::silence(48_000, 9_600);
            for (i, (l, r)) in audio.left.iter_mut().zip(&mut audio.right).enumerate() {
                *l = gain * (i as f32 * 0.031).sin();
                *r = 0.7 * *l;
            }
            audio
        };
        let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(3);
        for _ in 0..200 {
            let (name, make) = draw(&mut rng);
            let loud = make.run(&tone(2.0), 0.5);
            assert!(loud.peak() <= 0.5 * 1.001, "{name} {make:?}: {}", loud.peak());
            let quiet = make.run(&tone(0.05), 0.5);
            assert!((quiet.peak() / 0.05 - 1.0).abs() < 0.06, "{name} {make:?}: {}", quiet.peak());
        }
    }
}

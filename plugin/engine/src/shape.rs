//! The shape of a hit: its level and peak over its surroundings, from 50 ms before its onset to
//! 300 ms after it.
//!
//! Each point looks back over [`SHAPE_WINDOW_MS`](t::SHAPE_WINDOW_MS), and none looks across the
//! onset: up to it a point sees what was there before, behind it what the hit has brought. So
//! the onset stays as sharp as it is, and the largest level within 30 ms is the hit's contrast.

mod band_stats;
mod bands;
mod meter;
mod stats;

pub use band_stats::BandStats;
pub(crate) use bands::{BandMeter, FRAMES, frame_s, starts_s};
pub(crate) use meter::{ShapeMeter, Waiting};
pub use stats::{HitsShape, ShapeStats, Spread};

use crate::thresholds::shape as t;

/// When shapes and spectra are worked on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Turn {
    /// Before other heavy work: only what would soon be lost.
    Late,
    /// When there is nothing better to do.
    Free,
    /// At the end of a programme: all that there is.
    End,
}

/// Points of a shape.
pub const SHAPE_POINTS: usize = 83;
/// Milliseconds before the onset that a [`HitWave`] starts at, and that the first point lies at.
pub const WAVE_BEFORE_MS: usize = 50;
/// Milliseconds of a [`HitWave`].
pub const WAVE_MS: usize = 350;
/// Points of the level ratio in a [`HitWave`], one each 10 ms.
pub const WAVE_RATIOS: usize = WAVE_MS / 10;

/// What is not known, among hundredths of decibels.
const UNKNOWN: i16 = i16::MIN;

/// Ends of the points' windows, ms after the onset: every 5 ms up to 10 ms before it, every
/// millisecond up to 30 ms behind it, every 5 ms up to 100 ms, every 10 ms up to 300 ms.
pub(crate) const TIMES_MS: [i32; SHAPE_POINTS] = {
    let mut times = [0; SHAPE_POINTS];
    let (mut at, mut point) = (-(WAVE_BEFORE_MS as i32), 0);
    while point < SHAPE_POINTS {
        times[point] = at;
        at += if at < -10 {
            5
        } else if at < 30 {
            1
        } else if at < 100 {
            5
        } else {
            10
        };
        point += 1;
    }
    times
};

/// Time of point `index`, ms after the onset: the end of its window. The level at it is the mean
/// K-weighted power of the 10 ms up to it, the peak the largest true peak of the same; behind the
/// onset neither looks further back than the onset.
#[must_use]
pub fn shape_ms(index: usize) -> f64 {
    f64::from(TIMES_MS[index])
}

/// First and last millisecond, after the onset, of what a point sees.
pub(crate) fn window(time_ms: i32) -> (i32, i32) {
    let from = time_ms - t::SHAPE_WINDOW_MS;
    (if time_ms > 0 { from.max(0) } else { from }, time_ms)
}

/// The shape of one hit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HitShape {
    /// Number of the hit, as in [`Hit::index`](crate::Hit::index). Of a reference on the
    /// side-chain: the number of its own hit.
    pub hit: u64,
    /// Frame of the onset since reset.
    pub frame: u64,
    /// Whether it is what the side-chain has there. For the mix before the limiter this is the
    /// same moment, over its own surroundings.
    pub side: bool,
    /// Level over the surroundings, hundredths of dB.
    level: [i16; SHAPE_POINTS],
    /// True peak over the surroundings, hundredths of dB.
    peak: [i16; SHAPE_POINTS],
}

impl Default for HitShape {
    fn default() -> Self {
        let unknown = [UNKNOWN; SHAPE_POINTS];
        Self { hit: 0, frame: 0, side: false, level: unknown, peak: unknown }
    }
}

impl HitShape {
    /// K-weighted level at point `index`, dB over the hit's surroundings; `None` beyond the ends of
    /// the programme.
    #[must_use]
    pub fn level_db(&self, index: usize) -> Option<f64> {
        known(self.level[index])
    }

    /// True peak at point `index`, dBTP less the LUFS of the hit's surroundings.
    #[must_use]
    pub fn peak_db(&self, index: usize) -> Option<f64> {
        known(self.peak[index])
    }
}

/// The waveform of one hit, a millisecond a step, and what the side-chain has at the same time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitWave {
    /// Number of the hit, as in [`Hit::index`](crate::Hit::index).
    pub hit: u64,
    /// The mix.
    pub main: Wave,
    /// The mix before the limiter; `None` where it is not there.
    pub side: Option<Wave>,
    /// K-weighted level of the main over that of the side-chain, each 10 ms, hundredths of dB. The
    /// gain reduction is the constant gain between them less this. Means something with `side`.
    ratio: [i16; WAVE_RATIOS],
}

impl Default for HitWave {
    fn default() -> Self {
        Self { hit: 0, main: Wave::default(), side: None, ratio: [UNKNOWN; WAVE_RATIOS] }
    }
}

impl HitWave {
    /// Level of the main over that of the side-chain, dB, in the 10 ms numbered `index`, of which the
    /// first begins [`WAVE_BEFORE_MS`] before the hit.
    #[must_use]
    pub fn ratio_db(&self, index: usize) -> Option<f64> {
        self.side.and_then(|_| known(self.ratio[index]))
    }
}

/// Largest samples up and down, a millisecond a step, from [`WAVE_BEFORE_MS`] before the hit on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wave {
    /// Largest magnitude of all, linear.
    pub peak: f32,
    /// Shares of `peak`, of 255: up, down.
    sides: [[u8; 2]; WAVE_MS],
}

impl Default for Wave {
    fn default() -> Self {
        Self { peak: 0.0, sides: [[0; 2]; WAVE_MS] }
    }
}

impl Wave {
    /// Largest sample of the millisecond numbered `index`, and smallest, linear.
    #[must_use]
    pub fn ends(&self, index: usize) -> (f32, f32) {
        let [up, down] = self.sides[index].map(|share| f32::from(share) / 255.0 * self.peak);
        (up, -down)
    }
}

/// Third octaves of a hit's spectrum, from 50 Hz to 20 kHz.
pub const HIT_BANDS: usize = crate::THIRDS - BANDS_FROM;
/// The lowest of them: the third octave of 50 Hz.
const BANDS_FROM: usize = 3;

/// Middle of band `index` of a hit's spectrum, Hz.
#[must_use]
pub fn hit_band_hz(index: usize) -> f64 {
    crate::third_hz(BANDS_FROM + index)
}

/// The spectrum of one hit of the main over that of its surroundings. Under 160 Hz, where a third
/// octave is narrower than a hit is short, neighbouring bands share what they hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HitBands {
    /// Number of the hit, as in [`Hit::index`](crate::Hit::index).
    pub hit: u64,
    /// Level over the surroundings, hundredths of dB.
    over: [i16; HIT_BANDS],
}

impl HitBands {
    /// Level of the hit's first 40 ms over that of its surroundings in band `index`, dB; `None` where
    /// the rate has no such band, or nothing sounds in it.
    #[must_use]
    pub fn over_db(&self, index: usize) -> Option<f64> {
        known(self.over[index])
    }
}

fn known(hundredths: i16) -> Option<f64> {
    (hundredths != UNKNOWN).then(|| f64::from(hundredths) / 100.0)
}

/// Hundredths of dB, kept within `range`.
fn hundredths(db: f32, range: (f64, f64)) -> i16 {
    // A level of nothing is minus infinity: the least.
    (f64::from(db).max(range.0).min(range.1) * 100.0).round() as i16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_run_from_50_ms_before_to_300_ms_after() {
        assert_eq!((TIMES_MS[0], TIMES_MS[SHAPE_POINTS - 1]), (-50, 300));
        assert!(TIMES_MS.windows(2).all(|pair| pair[0] < pair[1]));
        assert!((-10..=30).all(|ms| TIMES_MS.contains(&ms)));
        assert_eq!([0, 1, 4, 10, 25].map(window), [(-10, 0), (0, 1), (0, 4), (0, 10), (15, 25)]);
    }
}

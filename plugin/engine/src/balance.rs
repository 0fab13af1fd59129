//! Low, mid and high, and third octaves, against the published long-term curve.

mod changes;
mod mending;
mod mids;
mod shape;

use crate::Balance;
use crate::spectrum::{THIRDS, third_edge_hz, third_hz};
use crate::thresholds as t;
use changes::Changes;
pub use mending::{Mending, carried_db};
pub(crate) use mids::{Heard, OverTime};
pub(crate) use shape::Tone;

/// Deviation from the curve of a third octave without signal, dB.
const SILENT_DB: f64 = -300.0;

/// Long-term power density of commercial music at `hz`, dB relative to 200 Hz: `-2.35 u - 0.659 u^2`,
/// `u = log2(f / 200 Hz)`. A parabola over the logarithm of frequency is what Elowsson & Friberg (AES
/// Convention Paper 9762, 2017) fit to 12,345 records; these two digits are ours and not read in the
/// paper. No verdict hangs on them: mids go by finished records that are measured against the same
/// curve ([`thresholds::records`](crate::thresholds::records)), whose medians lie within 6 dB of it
/// from 40 Hz to 16 kHz.
pub(crate) fn curve_db(hz: f64) -> f64 {
    let u = (hz / 200.0).log2();
    -2.35 * u - 0.659 * u * u
}

/// Third octaves whose mean is taken out of a deviation: 40 Hz to 16 kHz, where both the curve and
/// records have content.
const LEVELLED: std::ops::Range<usize> = 2..29;

/// How far each third octave lies over the published curve, dB, the mean from 40 Hz to 16 kHz taken
/// out, for levels as in [`Balance::thirds_dbfs`]. `None` where the level is.
#[must_use]
pub fn over_curve_db(thirds_dbfs: &[Option<f64>; THIRDS]) -> [Option<f64>; THIRDS] {
    let curve = std::array::from_fn(|index| {
        let width = third_edge_hz(index + 1) - third_edge_hz(index);
        Some(curve_db(third_hz(index)) + 10.0 * width.log10())
    });
    over_reference_db(thirds_dbfs, &curve)
}

/// How far each third octave of one programme lies over another's, dB, the mean from 40 Hz to
/// 16 kHz taken out. `None` where either level is.
#[must_use]
pub fn over_reference_db(
    thirds_dbfs: &[Option<f64>; THIRDS],
    reference_dbfs: &[Option<f64>; THIRDS],
) -> [Option<f64>; THIRDS] {
    let over: [Option<f64>; THIRDS] =
        std::array::from_fn(|index| Some(thirds_dbfs[index]? - reference_dbfs[index]?));
    let (sum, count) =
        over[LEVELLED].iter().flatten().fold((0.0, 0u32), |(sum, count), db| (sum + db, count + 1));
    let mean = sum / f64::from(count.max(1));
    over.map(|db| db.map(|db| db - mean))
}

/// What the curve shows of itself through the same bands.
#[derive(Clone, Debug)]
pub(crate) struct Curve {
    thirds_db: [f64; THIRDS],
    bands_db: [f64; 3],
    changes: Changes,
    has_high: bool,
    /// Whether the rate carries every third octave that the shape is told from.
    has_extremes: bool,
}

impl Curve {
    /// The curve as a bus of that rate shows it: from 20 Hz to 20 kHz or half the rate.
    pub(crate) fn new(rate_hz: f64, has_high: bool) -> Self {
        let top = (rate_hz / 2.0).min(20_000.0);
        let mut thirds = [0.0; THIRDS];
        let mut bands = [0.0; 3];
        // Steps of a hundredth octave from 20 Hz.
        let ratio = 2f64.powf(0.01);
        let mut from = 20.0;
        while from < top {
            let hz = from * ratio.sqrt();
            let power = 10f64.powf(curve_db(hz) / 10.0) * (from * ratio - from);
            let low = 1.0 / (1.0 + (hz / t::LOW_MID_HZ).powi(4));
            let high =
                if has_high { (1.0 - low) / (1.0 + (t::MID_HIGH_HZ / hz).powi(4)) } else { 0.0 };
            bands[0] += power * low;
            bands[1] += power * (1.0 - low - high).max(0.0);
            bands[2] += power * high;
            if let Some(index) =
                (0..THIRDS).find(|&i| (third_edge_hz(i)..third_edge_hz(i + 1)).contains(&hz))
            {
                thirds[index] += power;
            }
            from *= ratio;
        }
        let has_extremes = rate_hz / 2.0 >= third_edge_hz(shape::TOP) * 0.999;
        Self {
            bands_db: bands.map(|power| 10.0 * power.max(1e-30).log10()),
            thirds_db: thirds.map(|power| 10.0 * power.max(1e-30).log10()),
            changes: Changes::new(),
            has_high,
            has_extremes,
        }
    }

    /// What tells the shapes of a tone apart; `None` where the rate is too low for it, or before
    /// every third octave was heard. `thirds_dbfs` as in [`Balance`].
    pub(crate) fn tone(&self, thirds_dbfs: &[Option<f64>; THIRDS]) -> Option<Tone> {
        let heard = thirds_dbfs[..shape::TOP].iter().any(Option::is_some);
        (self.has_extremes && heard).then(|| {
            Tone::of(&std::array::from_fn(|index| {
                thirds_dbfs[index].map_or(SILENT_DB, |db| db - self.thirds_db[index]).max(SILENT_DB)
            }))
        })
    }

    /// Deviation of the programme from the curve. `bands` are summed powers of the three-band
    /// split, `thirds` of the third octaves; both zero for silence. The tone goes along.
    pub(crate) fn balance(
        &self,
        bands: &[f64; 3],
        thirds: &[f64; THIRDS],
    ) -> (Balance, Option<Tone>) {
        let thirds_dbfs = thirds.map(|power| (power > 0.0).then(|| 10.0 * power.log10()));
        let tone = self.tone(&thirds_dbfs);
        let count = if self.has_high { 3 } else { 2 };
        if bands[..count].iter().any(|&power| power <= 0.0) {
            return (Balance::default(), tone);
        }
        let mut deviation = [0.0; 3];
        for band in 0..count {
            deviation[band] = 10.0 * bands[band].log10() - self.bands_db[band];
        }
        let mean = deviation[..count].iter().sum::<f64>() / count as f64;
        let balance = Balance {
            low_db: Some(deviation[0] - mean),
            mid_db: Some(deviation[1] - mean),
            high_db: self.has_high.then(|| deviation[2] - mean),
            thirds_dbfs,
            reference_thirds_dbfs: [None; THIRDS],
            before_thirds_dbfs: [None; THIRDS],
            mid_deficit_db: tone.map(|tone| tone.deficit_db),
        };
        (balance, tone)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published curve's own figure: a mean slope of -4.5 dB an octave from 100 Hz to 4 kHz
    /// (Elowsson & Friberg 2017; Pestana et al. 2013 give about 5).
    #[test]
    fn the_curve_falls_four_and_a_half_decibels_an_octave() {
        let octaves = (4_000.0f64 / 100.0).log2();
        let slope = (curve_db(4_000.0) - curve_db(100.0)) / octaves;
        assert!((slope + 4.5).abs() < 0.2, "{slope}");
    }

    #[test]
    fn a_programme_on_the_curve_deviates_nowhere() {
        let curve = Curve::new(48_000.0, true);
        let bands = curve.bands_db.map(|db| 10f64.powf(db / 10.0) * 3.0);
        let thirds = curve.thirds_db.map(|db| 10f64.powf(db / 10.0));
        let (balance, _) = curve.balance(&bands, &thirds);
        for db in [balance.low_db, balance.mid_db, balance.high_db, balance.mid_deficit_db] {
            assert!(db.expect("known").abs() < 1e-9, "{balance:?}");
        }
    }
}

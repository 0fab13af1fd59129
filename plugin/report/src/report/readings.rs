//! The readings in the JSON: the engine's numbers under the names of the contract.
//!
//! What is taken from the engine is taken apart field by field: a reading that is new there does not
//! compile until it is carried here, or said not to be.

use brunt_engine::parts::buried::Missed;
use brunt_engine::records::{contrast_percentile, thirds_percentiles};
use brunt_engine::{
    Balance, Hit, Loudness, Punch, SmallSpeaker, THIRDS, over_curve_db, over_reference_db, third_hz,
};
use serde::{Deserialize, Serialize};

use super::{DrumShape, ShapeReport, SpectrumReport};

/// Loudness and peaks, as in [`Loudness`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LoudnessReport {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Largest short-term loudness, LUFS.
    pub short_term_max_lufs: Option<f64>,
    /// Largest momentary loudness, LUFS.
    pub momentary_max_lufs: Option<f64>,
    /// Loudness range, LU.
    pub range_lu: Option<f64>,
    /// True peak, dBTP.
    pub true_peak_dbtp: Option<f64>,
    /// Sample peak, dBFS.
    pub sample_peak_dbfs: Option<f64>,
    /// Peak-to-loudness ratio, dB.
    pub plr_db: Option<f64>,
    /// Smallest PSR, dB.
    pub psr_min_db: Option<f64>,
    /// Median PSR, dB.
    pub psr_median_db: Option<f64>,
}

impl From<&Loudness> for LoudnessReport {
    fn from(x: &Loudness) -> Self {
        let Loudness {
            // These three are of a moment, and no reading of the whole.
            momentary_lufs: _,
            short_term_lufs: _,
            psr_db: _,
            integrated_lufs,
            momentary_max_lufs,
            short_term_max_lufs,
            range_lu,
            true_peak_dbtp,
            sample_peak_dbfs,
            plr_db,
            psr_min_db,
            psr_median_db,
        } = *x;
        Self {
            integrated_lufs,
            short_term_max_lufs,
            momentary_max_lufs,
            range_lu,
            true_peak_dbtp,
            sample_peak_dbfs,
            plr_db,
            psr_min_db,
            psr_median_db,
        }
    }
}

/// Long-term balance, as in [`Balance`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BalanceReport {
    /// Low band against the curve, dB.
    pub low_db: Option<f64>,
    /// Mid band against the curve, dB.
    pub mid_db: Option<f64>,
    /// High band against the curve, dB.
    pub high_db: Option<f64>,
    /// Mid deficit, dB.
    pub mid_deficit_db: Option<f64>,
    /// Third octaves from 25 Hz to 20 kHz. Empty in reports without them.
    #[serde(default)]
    pub thirds: Vec<ThirdReport>,
}

/// One third octave.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ThirdReport {
    /// Middle of the band, Hz.
    pub hz: f64,
    /// Long-term level, dB: mean square re 1.0, added over channels.
    pub level_dbfs: Option<f64>,
    /// Level over the published curve, dB; the mean from 40 Hz to 16 kHz is taken out.
    pub over_curve_db: Option<f64>,
    /// Level over the reference's, dB, likewise. Null without a reference.
    #[serde(default)]
    pub over_reference_db: Option<f64>,
    /// Share of finished records with less over the curve, %. Null where the level is.
    #[serde(default)]
    pub percentile: Option<f64>,
}

impl BalanceReport {
    /// The third octaves' levels as the engine has them; `None` where the report lacks one.
    #[must_use]
    pub fn thirds_dbfs(&self) -> [Option<f64>; THIRDS] {
        std::array::from_fn(|index| self.thirds.get(index).and_then(|third| third.level_dbfs))
    }
}

impl From<&Balance> for BalanceReport {
    fn from(x: &Balance) -> Self {
        let Balance {
            low_db,
            mid_db,
            high_db,
            thirds_dbfs,
            // Carried as the difference from it.
            reference_thirds_dbfs,
            // Carried by the comparison, likewise.
            before_thirds_dbfs: _,
            mid_deficit_db,
        } = x;
        let over_curve = over_curve_db(thirds_dbfs);
        Self {
            low_db: *low_db,
            mid_db: *mid_db,
            high_db: *high_db,
            mid_deficit_db: *mid_deficit_db,
            thirds: thirds_dbfs
                .iter()
                .zip(over_curve)
                .zip(over_reference_db(thirds_dbfs, reference_thirds_dbfs))
                .zip(thirds_percentiles(&over_curve))
                .enumerate()
                .map(|(index, (((level_dbfs, over_curve_db), over_reference_db), percentile))| {
                    ThirdReport {
                        hz: third_hz(index),
                        level_dbfs: *level_dbfs,
                        over_curve_db,
                        over_reference_db,
                        percentile,
                    }
                })
                .collect(),
        }
    }
}

/// Hit contrast over all hits, the buried ones among them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PunchReport {
    /// As the engine has it.
    #[serde(flatten)]
    pub over_hits: Punch,
    /// Number of the drums' strokes that do not stand out of the mix: by less than 1 dB. Known only
    /// with the drums' part; the statistics above then count these at what they have left.
    #[serde(default)]
    pub buried: Option<u64>,
    /// Their share of the hits, 0 to 1.
    #[serde(default)]
    pub buried_share: Option<f64>,
    /// The shape of the hits. Absent where none was kept.
    #[serde(default)]
    pub shape: Option<ShapeReport>,
    /// The same at the strokes of kick and snare, where the drums' parts are there.
    #[serde(default)]
    pub shape_by_drum: Vec<DrumShape>,
    /// The hits' spectrum over that of their surroundings. Absent where none was kept.
    #[serde(default)]
    pub spectrum: Option<SpectrumReport>,
    /// Share of finished records with a lower median, %. `None` in reports without it, and of a part
    /// alone.
    #[serde(default)]
    pub contrast_percentile: Option<f64>,
}

impl From<Punch> for PunchReport {
    fn from(over_hits: Punch) -> Self {
        let percentile = over_hits.contrast_db.map(contrast_percentile);
        Self { over_hits, contrast_percentile: percentile, ..Self::default() }
    }
}

/// Whatever is asked of the engine's numbers can be asked of these.
impl std::ops::Deref for PunchReport {
    type Target = Punch;

    fn deref(&self) -> &Punch {
        &self.over_hits
    }
}

/// What a small speaker leaves of the hits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SmallSpeakerReport {
    /// Corner of the second-order high-pass that stands for the speaker, Hz.
    pub high_pass_hz: f64,
    /// As the engine has it.
    #[serde(flatten)]
    pub over_hits: SmallSpeaker,
}

impl From<SmallSpeaker> for SmallSpeakerReport {
    fn from(over_hits: SmallSpeaker) -> Self {
        Self { high_pass_hz: brunt_engine::thresholds::SMALL_SPEAKER_HZ, over_hits }
    }
}

/// Whatever is asked of the engine's numbers can be asked of these.
impl std::ops::Deref for SmallSpeakerReport {
    type Target = SmallSpeaker;

    fn deref(&self) -> &SmallSpeaker {
        &self.over_hits
    }
}

/// One hit, as in [`Hit`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HitReport {
    /// Onset, s from the start of the file.
    pub time_s: f64,
    /// True peak, dBTP. Null where the hit's peak is no finite number.
    pub true_peak_dbtp: Option<f64>,
    /// Hit contrast, dB.
    pub contrast_db: Option<f64>,
    /// Lost peak, dB at matched loudness.
    pub lost_db: Option<f64>,
    /// True peak of the same moment in the mix before the limiter, dBTP as that mix came. Known
    /// only where it was given; the lost peak is then measured, not estimated.
    #[serde(default)]
    pub before_peak_dbtp: Option<f64>,
    /// Gain reduction at the hit, dB, measured likewise.
    #[serde(default)]
    pub reduction_db: Option<f64>,
    /// Level, LUFS.
    #[serde(default)]
    pub level_lufs: Option<f64>,
    /// Level of what surrounds the hit, LUFS.
    #[serde(default)]
    pub bed_lufs: Option<f64>,
    /// Attack time, ms.
    #[serde(default)]
    pub attack_ms: Option<f64>,
    /// Hit contrast as a small speaker leaves it, dB.
    #[serde(default)]
    pub small_contrast_db: Option<f64>,
    /// Whether the hit vanishes there.
    #[serde(default)]
    pub small_vanishes: Option<bool>,
    /// Whether it is a stroke of the drums that does not stand out of the mix; null where the drums'
    /// part is not there to tell.
    #[serde(default)]
    pub buried: Option<bool>,
}

impl HitReport {
    /// A hit of a passage that starts `from_s` seconds into the file.
    #[must_use]
    pub fn at(hit: &Hit, from_s: f64) -> Self {
        let known = |x: f64| x.is_finite().then_some(x);
        let Hit {
            // Its place in the list tells.
            index: _,
            // Its time tells.
            frame: _,
            time_s,
            true_peak_dbtp,
            level_lufs,
            bed_lufs,
            contrast_db,
            attack_ms,
            // What the estimates are made of.
            band_dbfs: _,
            small_contrast_db,
            lost_db,
            before_peak_dbtp,
            reduction_db,
        } = *hit;
        Self {
            time_s: from_s + time_s,
            true_peak_dbtp: known(true_peak_dbtp),
            contrast_db: known(contrast_db),
            lost_db,
            before_peak_dbtp,
            reduction_db,
            level_lufs: known(level_lufs),
            bed_lufs: known(bed_lufs),
            attack_ms: known(attack_ms),
            small_contrast_db: known(small_contrast_db),
            small_vanishes: small_contrast_db.is_finite().then(|| hit.vanishes_on_small_speaker()),
            buried: None,
        }
    }

    /// A stroke of the drums that was not found in the mix, in a passage that starts `from_s` seconds
    /// into the file.
    #[must_use]
    pub fn missed(missed: &Missed, sample_rate_hz: f64, from_s: f64) -> Self {
        Self {
            time_s: from_s + missed.frame as f64 / sample_rate_hz,
            contrast_db: Some(missed.contrast_db),
            level_lufs: Some(missed.level_lufs),
            bed_lufs: Some(missed.bed_lufs),
            buried: Some(missed.is_buried()),
            ..Self::default()
        }
    }
}

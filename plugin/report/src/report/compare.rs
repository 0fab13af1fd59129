//! The comparison in the JSON: the mix beside its unlimited version, or beside a reference.

use brunt_engine::{InputHealth, THIRDS, over_reference_db, third_hz};
use serde::{Deserialize, Serialize};

use super::ShapeReport;

/// The comparison with another file, or with the side-chain.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CompareReport {
    /// `before`, `reference` or `partner`.
    pub role: String,
    /// The other file as the user named it. Absent in the plug-in.
    #[serde(default)]
    pub file: Option<String>,
    /// Whether both are one programme: `found`, `none` or `unknown`. Always `unknown` for a
    /// reference, of which no relation is expected.
    #[serde(default)]
    pub relation: String,
    /// Mix behind the other, ms.
    pub delay_ms: Option<f64>,
    /// Whether one of them has the other sign.
    #[serde(default)]
    pub inverted: bool,
    /// Likeness at that delay, 0 to 1.
    #[serde(default)]
    pub likeness: Option<f64>,
    /// Gain of the mix over the other, dB: for `before` the constant gain at moments without
    /// reduction, for `reference` the difference of their integrated loudness.
    pub gain_db: Option<f64>,
    /// Half of the 90 % range of that gain, dB.
    #[serde(default)]
    pub gain_range_db: Option<f64>,
    /// Whether there are moments without reduction; where there are none, gain and reductions may be
    /// more by up to some 2 dB. `before` only.
    #[serde(default)]
    pub limiter_rests: Option<bool>,
    /// Integrated loudness of the mix less that of the other, LU; over the same passage for
    /// `before`.
    #[serde(default)]
    pub loudness_difference_lu: Option<f64>,
    /// Whether an equaliser or the like lies between. `before` only.
    #[serde(default)]
    pub equalised: Option<bool>,
    /// Hit contrast of the mix less that of the other, dB.
    pub contrast_difference_db: Option<f64>,
    /// Low, mid and high band of the mix over the other, dB: at matched loudness, and in a file check with a reference
    /// after the published curve is taken out.
    pub band_difference_db: BandDifference,
    /// Lost peak at matched loudness, dB, median over hits. `before` only.
    pub lost_db_median: Option<f64>,
    /// Gain reduction at the hits, dB, median. `before` only.
    pub reduction_db_median: Option<f64>,
    /// The same, 90th percentile.
    #[serde(default)]
    pub reduction_db_p90: Option<f64>,
    /// The same, largest.
    pub reduction_db_max: Option<f64>,
    /// Hits compared.
    #[serde(default)]
    pub hits: u64,
    /// Third octaves of the mix over the other's, dB; the mean from 40 Hz to 16 kHz is taken out.
    /// Empty where the other's are not known.
    #[serde(default)]
    pub thirds: Vec<ThirdDifference>,
    /// The shape of the other's hits: for `before` of the same moments, for `reference` of its own
    /// hits. Absent where none was kept.
    #[serde(default)]
    pub shape: Option<ShapeReport>,
    /// The other file's samples that were no audio; they were measured as silence. Absent where they
    /// were not counted, as in the plug-in.
    #[serde(default)]
    pub input: Option<InputHealth>,
    /// The comparison in one line.
    #[serde(default)]
    pub says: String,
}

/// Difference of the bands, dB. For `before` at matched loudness; for `reference` between their
/// deviations from the published curve.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BandDifference {
    /// Low band.
    pub low: Option<f64>,
    /// Mid band.
    pub mid: Option<f64>,
    /// High band.
    pub high: Option<f64>,
}

/// One third octave of the mix over the other's.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ThirdDifference {
    /// Middle of the band, Hz.
    pub hz: f64,
    /// Mix over the other, dB.
    pub difference_db: Option<f64>,
}

impl ThirdDifference {
    /// The differences between two long-term spectra; empty where nothing can be told.
    #[must_use]
    pub fn of(mix_dbfs: &[Option<f64>; THIRDS], other_dbfs: &[Option<f64>; THIRDS]) -> Vec<Self> {
        let over = over_reference_db(mix_dbfs, other_dbfs);
        if over.iter().all(Option::is_none) {
            return Vec::new();
        }
        let one = |(index, difference_db)| Self { hz: third_hz(index), difference_db };
        over.into_iter().enumerate().map(one).collect()
    }
}

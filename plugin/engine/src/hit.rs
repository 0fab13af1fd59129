//! One hit: an onset strong enough to carry rhythm.

/// A measured hit. It is given out once, when its surroundings are known:
/// [`SURROUND_AFTER_MS`](crate::thresholds::SURROUND_AFTER_MS) after its onset.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Hit {
    /// Running number since reset, from 0.
    pub index: u64,
    /// Frame of the onset since reset.
    pub frame: u64,
    /// The same in seconds.
    pub time_s: f64,
    /// True peak of the hit's first [`HIT_PEAK_MS`](crate::thresholds::HIT_PEAK_MS), dBTP.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub true_peak_dbtp: f64,
    /// K-weighted level of the loudest 10 ms in the hit's first 30 ms, LUFS.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub level_lufs: f64,
    /// K-weighted level of what surrounds the hit, LUFS.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub bed_lufs: f64,
    /// Hit contrast, dB: `level_lufs - bed_lufs`. Gain-invariant.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub contrast_db: f64,
    /// Attack time, ms: from the onset to the end of the first millisecond that comes within 3 dB
    /// of the strongest one in the hit's first 30 ms.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub attack_ms: f64,
    /// Unweighted level of the same 10 ms in the low, mid and high band, dBFS (mean square).
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::numbers"))]
    pub band_dbfs: [f64; 3],
    /// Hit contrast as a small speaker leaves it, dB: the same with the K-weighted signal through a
    /// second-order Butterworth high-pass at
    /// [`SMALL_SPEAKER_HZ`](crate::thresholds::SMALL_SPEAKER_HZ). It can be negative.
    #[cfg_attr(feature = "serde", serde(with = "crate::saved::number"))]
    pub small_contrast_db: f64,
    /// Lost peak, dB at matched loudness, as known when the hit was given out.
    pub lost_db: Option<f64>,
    /// True peak of the same moment in the mix before the limiter, dBTP as that mix came. Known
    /// only where the side-chain carries it; `lost_db` is then measured, not estimated.
    pub before_peak_dbtp: Option<f64>,
    /// Gain reduction at the hit, dB, measured likewise: peak ahead of the limiter, make-up gain
    /// included, less the peak behind it.
    pub reduction_db: Option<f64>,
}

impl Hit {
    /// Whether the hit vanishes on a small speaker: it stands out of its surroundings by less than
    /// [`HIT_CONTRAST_DB`](crate::thresholds::HIT_CONTRAST_DB) there, and so would be no hit.
    #[must_use]
    pub fn vanishes_on_small_speaker(&self) -> bool {
        self.small_contrast_db < crate::thresholds::HIT_CONTRAST_DB
    }
}

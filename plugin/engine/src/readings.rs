//! The numbers that a [`Meter`](crate::Meter) gives: plain data, copied out as a whole.
//!
//! `None` means *not known yet* (too little programme, or the input that it needs is missing),
//! never zero. All levels are f64 decibels of the stated kind.

use crate::compare::Compare;
use crate::leaks::{Ceiling, Leaks};
use crate::spectrum::THIRDS;

/// One consistent snapshot of everything measured since the last reset.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Readings {
    /// Frames measured since the last reset.
    pub frames: u64,
    /// The same in seconds.
    pub time_s: f64,
    /// Loudness and peaks.
    pub loudness: Loudness,
    /// Long-term low, mid and high against the published curve.
    pub balance: Balance,
    /// Hit contrast over all hits since the last reset.
    pub punch: Punch,
    /// Hit contrast over the last [`RECENT_HITS`](crate::RECENT_HITS) hits: follows a moved control.
    pub punch_recent: Punch,
    /// Hit contrast as a small speaker leaves it.
    pub small_speaker: SmallSpeaker,
    /// The five leaks.
    pub leaks: Leaks,
    /// The ceiling in the present section: the last
    /// [`SECTION_HITS`](crate::thresholds::SECTION_HITS) hits. Follows a moved threshold.
    pub ceiling_recent: Ceiling,
    /// What was wrong with the input samples.
    pub input: InputHealth,
    /// The side-chain bus.
    pub side: Side,
    /// The comparison with the side-chain. `None` while it has carried no signal.
    pub compare: Option<Compare>,
}

/// Loudness after ITU-R BS.1770-5 and EBU Tech 3341/3342.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Loudness {
    /// Momentary loudness, LUFS: 400 ms window, hop 10 ms.
    pub momentary_lufs: Option<f64>,
    /// Short-term loudness, LUFS: 3 s window, hop 10 ms.
    pub short_term_lufs: Option<f64>,
    /// Integrated loudness, LUFS: gated at -70 LUFS and 10 LU under the absolute-gated mean.
    pub integrated_lufs: Option<f64>,
    /// Largest momentary loudness since reset, LUFS.
    pub momentary_max_lufs: Option<f64>,
    /// Largest short-term loudness since reset, LUFS.
    pub short_term_max_lufs: Option<f64>,
    /// Loudness range, LU (Tech 3342).
    pub range_lu: Option<f64>,
    /// Largest true peak since reset, dBTP (BS.1770-5 Annex 2).
    pub true_peak_dbtp: Option<f64>,
    /// Largest sample magnitude since reset, dBFS.
    pub sample_peak_dbfs: Option<f64>,
    /// Peak-to-loudness ratio, dB: largest true peak less integrated loudness.
    pub plr_db: Option<f64>,
    /// Peak-to-short-term-loudness ratio now, dB: true peak of the last 3 s less short-term loudness.
    pub psr_db: Option<f64>,
    /// Smallest PSR since reset, dB, over moments above the gates of the integrated loudness.
    pub psr_min_db: Option<f64>,
    /// Median PSR since reset, dB, over the same moments.
    pub psr_median_db: Option<f64>,
}

/// Long-term spectral balance against the published curve (Elowsson & Friberg 2017).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Balance {
    /// Low band over the curve, dB; the mean of the three bands' deviations is taken out.
    pub low_db: Option<f64>,
    /// Mid band over the curve, dB, likewise.
    pub mid_db: Option<f64>,
    /// High band over the curve, dB, likewise. `None` where the sample rate has no high band.
    pub high_db: Option<f64>,
    /// Long-term level of each third octave from 25 Hz to 20 kHz (IEC 61260-1, base ten;
    /// [`third_hz`](crate::third_hz)), dB: mean square re 1.0, added over channels. `None` where
    /// the sample rate has no such band, or nothing was heard in it.
    pub thirds_dbfs: [Option<f64>; THIRDS],
    /// The same of the side-chain while its role is *reference*; `None` otherwise.
    pub reference_thirds_dbfs: [Option<f64>; THIRDS],
    /// The same while its role is *before*.
    pub before_thirds_dbfs: [Option<f64>; THIRDS],
    /// Mid deficit, dB: how far the mean deviation from the curve of the third octaves from 200 Hz
    /// to 1.6 kHz lies under the straight line between those of 31.5-63 Hz and 6.3-16 kHz, times
    /// 1.6: about the depth of a wide dip near 700 Hz that does the same. A tilt of the whole
    /// spectrum counts for nothing. Positive: mids weak.
    pub mid_deficit_db: Option<f64>,
}

/// Hit contrast over a set of hits.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Punch {
    /// Median hit contrast, dB.
    pub contrast_db: Option<f64>,
    /// 10th percentile, dB.
    pub contrast_p10_db: Option<f64>,
    /// 90th percentile, dB.
    pub contrast_p90_db: Option<f64>,
    /// Number of hits in the set.
    pub hits: u64,
}

/// What a small speaker leaves of the hits since reset; see
/// [`Hit::small_contrast_db`](crate::Hit::small_contrast_db).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct SmallSpeaker {
    /// Median hit contrast there, dB.
    pub contrast_db: Option<f64>,
    /// 10th percentile, dB.
    pub contrast_p10_db: Option<f64>,
    /// 90th percentile, dB.
    pub contrast_p90_db: Option<f64>,
    /// Hits that vanish there. `None` before the first hit.
    pub vanished: Option<u64>,
}

/// Samples that were no audio; each was measured as silence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct InputHealth {
    /// NaN samples since reset, all channels.
    pub nan_samples: u64,
    /// Infinite samples and those over +60 dBFS ([`LARGEST_SAMPLE`](crate::thresholds::LARGEST_SAMPLE)) since
    /// reset, all channels.
    pub inf_samples: u64,
}

/// The side-chain bus. A host can leave it unconnected and send silence: that is `signal == false`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Side {
    /// Whether the side-chain carried anything above -70 LUFS in the last 400 ms.
    pub signal: bool,
    /// Momentary loudness of the side-chain, LUFS.
    pub momentary_lufs: Option<f64>,
    /// Integrated loudness of the side-chain since reset, LUFS.
    pub integrated_lufs: Option<f64>,
}

/// One point of the 10 Hz history.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HistoryPoint {
    /// End of the point's 100 ms, seconds since reset.
    pub time_s: f64,
    /// Short-term loudness, LUFS.
    pub short_term_lufs: Option<f64>,
    /// True peak of these 100 ms, dBTP.
    pub true_peak_dbtp: Option<f64>,
    /// Median contrast of the recent hits, dB.
    pub contrast_db: Option<f64>,
    /// Cost of each leak at that time, dB, in the order of [`LeakKind::ALL`](crate::LeakKind::ALL).
    pub costs_db: [Option<f64>; 5],
}

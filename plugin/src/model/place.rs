//! Measured things with their place in time and in the host's song.

use brunt_engine::Hit;
use serde::{Deserialize, Serialize};

/// Latest values for fast meters. `None` as in [`Readings`](brunt_engine::Readings).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Live {
    /// Momentary loudness, LUFS.
    pub momentary_lufs: Option<f64>,
    /// Short-term loudness, LUFS.
    pub short_term_lufs: Option<f64>,
    /// Largest true peak since the last reset, dBTP.
    pub true_peak_dbtp: Option<f64>,
    /// Peak-to-short-term-loudness ratio, dB.
    pub psr_db: Option<f64>,
}

/// A hit with its place in the host's song.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PlacedHit {
    /// The hit as measured.
    #[serde(flatten)]
    pub hit: Hit,
    /// Position of the onset in the host's song, quarter notes from its start. `None` while the
    /// transport stands still or the host gives no tempo.
    pub beat: Option<f64>,
}

/// The start of a bar of the host's song.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BarLine {
    /// When it passed, seconds of measured programme: the same axis as
    /// [`Hit::time_s`](brunt_engine::Hit::time_s).
    pub time_s: f64,
    /// Number of the bar as an engineer counts it: the first is 1.
    pub number: i64,
}

/// From here on the song was at another place than what was before would go on to, or at none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlaceMark {
    /// When, seconds of measured programme.
    pub time_s: f64,
    /// Place in the song, s; `None` while the transport stands still or the host gives no place.
    pub song_s: Option<f64>,
}

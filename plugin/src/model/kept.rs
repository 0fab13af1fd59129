//! A pass that was kept to compare with, as a session saves it.

use brunt_report::report::{HistoryReport, ShapeReport};
use serde::{Deserialize, Serialize};

/// Farthest place in a song that is saved, quarter notes. Ours: six days at 120 beats a minute; a host
/// that gives more has given no place.
pub(crate) const FARTHEST_BEAT: f64 = 1e6;

/// A pass as it was when it was kept.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct KeptPass {
    /// Running number, from 1.
    pub number: u32,
    /// Length of what was measured, s.
    pub time_s: f64,
    /// Hit contrast over the whole pass, dB, median.
    pub contrast_db: Option<f64>,
    /// Lost peak over its hits, dB, median.
    pub lost_db: Option<f64>,
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Its hits, by their place in the song; those without a place come first.
    pub hits: Vec<KeptHit>,
    /// Its history.
    pub history: Option<HistoryReport>,
    /// The shape of its hits. Absent from passes that were kept before there were any.
    #[serde(default)]
    pub shape: Option<ShapeReport>,
}

/// One hit of a kept pass: place in the song in quarter notes, contrast in dB, lost peak in dB.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeptHit(pub Option<f32>, pub f32, pub Option<f32>);

//! Where a report comes from.

use serde::{Deserialize, Serialize};

/// Where the measured samples came from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Source {
    /// The file as the user named it; in the plug-in, the track's name or an empty string.
    pub file: String,
    /// Sample rate, Hz.
    pub sample_rate_hz: f64,
    /// Channels: 1 or 2.
    pub channels: usize,
    /// Length of the measured passage, s. The whole file, where no passage was chosen.
    pub duration_s: f64,
    /// Start of the measured passage in the file, s. Times of hits count from the file's start.
    #[serde(default)]
    pub from_s: f64,
}

/// The program and the limits that made the report.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Made {
    /// Version of the program.
    pub version: String,
    /// Cost from which a leak is on watch, dB of hit contrast.
    pub watch_db: f64,
    /// Cost from which a leak is leaking, dB of hit contrast.
    pub leaking_db: f64,
}

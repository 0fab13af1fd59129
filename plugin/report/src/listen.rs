//! The JSON `brunt-listen/1`: versions of one passage, written to be listened to.
//!
//! Numbers are in the unit that their name ends in; `null` means *not known*. Fields may be added, none
//! is renamed.

use brunt_engine::LeakKind;
use serde::{Deserialize, Serialize};

use crate::report::{Made, Source};
use crate::words::leak_code;

/// Name and version of the JSON's form.
pub const SCHEMA: &str = "brunt-listen/1";

/// Versions of one passage at one loudness.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ListenReport {
    /// `brunt-listen/1`.
    pub schema: String,
    /// What made it.
    pub made: Option<Made>,
    /// The mix, whole.
    pub mix: Source,
    /// What was cut out of it.
    pub passage: PassageCut,
    /// Loudness that every version has over the passage, LUFS integrated.
    pub loudness_lufs: f64,
    /// True peak that none exceeds, dBTP.
    pub most_dbtp: f64,
    /// `wav`, `wav-float` or `flac`.
    pub format: String,
    /// The versions, the mix as it is first.
    pub versions: Vec<VersionReport>,
    /// Causes that have no version, each with the reason.
    pub left_out: Vec<LeftOut>,
}

/// The passage.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PassageCut {
    /// Start, s from the mix's start.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// `brunt` where most is lost there, `options` where `--from` or `--to` asked for it.
    pub chosen_by: String,
    /// Hits whose surroundings lie within it: those that are measured again.
    pub hits: usize,
}

/// One version.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct VersionReport {
    /// `mix`, `parts`, `before`, `timing`, `clutter`, `drive`, `take-b`, `mids`, `lower` or
    /// `reference`.
    pub id: String,
    /// Its file, in the folder of the JSON.
    pub file: String,
    /// Its name for a person.
    pub name: String,
    /// What was changed.
    pub what: String,
    /// The leak that is taken out: `ceiling`, `timing`, `clutter`, `drive` or `mids`; `null` of others.
    pub leak: Option<String>,
    /// `id` of the version that it is compared with; `null` where it is with none.
    pub against: Option<String>,
    /// Gain that brought it to the common loudness, dB.
    pub gain_db: f64,
    /// Loudness of the written file, LUFS integrated.
    pub loudness_lufs: Option<f64>,
    /// True peak of the written file, dBTP.
    pub true_peak_dbtp: Option<f64>,
    /// Hit contrast of the written file, dB, median over the passage's hits; of a reference over its own.
    pub contrast_db: Option<f64>,
    /// What the hits gain by an estimate from the parts' powers, as the plug-in gives it live, dB of hit
    /// contrast, median over the passage's hits.
    pub estimated_db: Option<f64>,
    /// What the hits should gain, dB of hit contrast: by the parts' audio over the whole song, or by the
    /// mix before the limiter. For mids what the passage should gain from 200 Hz to 4 kHz, K-weighted,
    /// at one loudness, dB.
    pub predicted_db: Option<f64>,
    /// The same, measured on both written files: at the same hits, median; for mids on their spectra.
    pub remeasured_db: Option<f64>,
}

/// A cause without a version.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// `ceiling`, `timing`, `clutter`, `drive` or `mids`.
    pub leak: String,
    /// Why.
    pub why: String,
}

impl LeftOut {
    /// A cause and why it has no version.
    #[must_use]
    pub fn new(leak: LeakKind, why: &str) -> Self {
        Self { leak: leak_code(leak).to_owned(), why: why.to_owned() }
    }
}

impl ListenReport {
    /// The session as indented JSON, ending in a line feed.
    ///
    /// # Errors
    /// Never for finite numbers; the JSON writer's error otherwise.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

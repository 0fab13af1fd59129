//! Reads what the plug-in has measured out of its saved state, as anybody could who has only the
//! session's file.

use brunt_engine::Hit;
use brunt_report::columns;
use brunt_report::report::{HitReport, Report};
use serde_json::Value;

use super::{Error, Result, because};

/// A saved state: 8 bytes of length, little-endian, and JSON.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SavedState {
    /// The bytes as the plug-in wrote them.
    pub bytes: Vec<u8>,
}

impl SavedState {
    pub(super) fn new(bytes: Vec<u8>) -> Self {
        Self { bytes }
    }

    /// A state with the given JSON in it.
    #[must_use]
    pub fn from_json(json: &Value) -> Self {
        let text = json.to_string();
        let mut bytes = (text.len() as u64).to_le_bytes().to_vec();
        bytes.extend_from_slice(text.as_bytes());
        Self { bytes }
    }

    /// The state's JSON.
    ///
    /// # Errors
    /// When the bytes are no saved state.
    pub fn json(&self) -> Result<Value> {
        let (length, text) = self
            .bytes
            .split_first_chunk::<8>()
            .ok_or_else(|| Error(format!("saved state of {} bytes", self.bytes.len())))?;
        if u64::from_le_bytes(*length) != text.len() as u64 {
            return Err(Error("saved state: length does not match".to_owned()));
        }
        serde_json::from_slice(text).map_err(|e| because("saved state", e))
    }

    /// A persisted field, parsed.
    ///
    /// # Errors
    /// When the state has no such field or it is no JSON.
    pub fn field(&self, name: &str) -> Result<Value> {
        let json = self.json()?;
        let text = json["fields"][name]
            .as_str()
            .ok_or_else(|| Error(format!("saved state without field \"{name}\"")))?;
        serde_json::from_str(text).map_err(|e| because(name, e))
    }

    /// The report of the last pass; `None` where nothing was measured.
    ///
    /// # Errors
    /// When the state or the report in it cannot be read.
    pub fn report(&self) -> Result<Option<Report>> {
        let pass = self.field("pass")?;
        if pass.is_null() {
            return Ok(None);
        }
        let text = pass["report"].to_string();
        let mut report = Report::from_json(&text).map_err(|e| because("the saved report", e))?;
        let hits: Vec<Hit> =
            columns::deserialize(&pass["hits"]).map_err(|e| because("the saved hits", e))?;
        report.hits = hits.iter().map(|hit| HitReport::at(hit, 0.0)).collect();
        Ok(Some(report))
    }

    /// Hits of the pass that were left out of the report.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub fn hits_left_out(&self) -> Result<u64> {
        let pass = self.field("pass")?;
        let kept = pass["hits"]["time_s"].as_array().map_or(0, Vec::len) as u64;
        Ok(pass["readings"]["punch"]["hits"].as_u64().unwrap_or(0).saturating_sub(kept))
    }
}

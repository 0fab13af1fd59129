//! One WAV with its truth file.

use brunt_lab::corpus::truth::Truth;
use brunt_lab::corpus::{CorpusError, Stereo};
use serde_json::{Value, json};
use std::path::Path;

/// Writes `name.wav` and `name.json`; the latter holds `extra` beside the file's name.
pub fn pair(dir: &Path, name: &str, audio: &Stereo, extra: &Value) -> Result<(), CorpusError> {
    audio.write(&dir.join(format!("{name}.wav")))?;
    let mut truth = extra.clone();
    truth["file"] = json!(format!("{name}.wav"));
    let path = dir.join(format!("{name}.json"));
    std::fs::write(&path, format!("{truth:#}\n")).map_err(|e| CorpusError::file(path, e))
}

/// Makes the folder.
pub fn folder(dir: &Path) -> Result<(), CorpusError> {
    std::fs::create_dir_all(dir).map_err(|e| CorpusError::file(dir, e))
}

/// Events as JSON.
pub fn events(truth: &[Truth]) -> Value {
    let events: Vec<Value> = truth
        .iter()
        .map(|t| {
            json!({
                "instrument": t.instrument.name(), "time_s": t.time_s, "time_20_s": t.time_20_s,
                "time_10_s": t.time_10_s, "velocity": t.velocity, "peak_dbfs": t.peak_dbfs,
                "rise_db": t.rise_db,
            })
        })
        .collect();
    json!({ "events": events })
}

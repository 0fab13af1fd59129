//! Lines for the fit of the suggested role.

use super::RATE;
use brunt_engine::Config;
use brunt_engine::parts::{PartTrack, role_evidence};
use brunt_lab::corpus::CorpusError;
use brunt_lab::corpus::mix::Library;
use brunt_lab::session::roles::{Set, stems};
use rayon::prelude::*;
use std::path::Path;

/// Length of a stem, s.
const LENGTH_S: f64 = 12.0;

/// Writes a line a stem: number of the plan, name and role of the stem, evidence; no evidence where
/// there is too little to go by.
pub fn write(path: &Path, set: Set, count: u64, seed: u64) -> Result<(), CorpusError> {
    let lines: Vec<String> = (0..count)
        .into_par_iter()
        .map_init(Library::default, |library, number| {
            let mut lines = String::new();
            for stem in stems(set, seed + number, LENGTH_S, RATE, library)? {
                let config = Config { sample_rate_hz: f64::from(RATE), channels: 2 };
                let planes = stem.audio.channels();
                let track =
                    PartTrack::measure(stem.role, stem.name, config, &planes).expect("a rate");
                lines += &format!("{number} {} {}", stem.name, stem.role.code());
                for value in role_evidence(&track).iter().flat_map(|evidence| evidence.numbers) {
                    lines += &format!(" {value}");
                }
                lines.push('\n');
            }
            Ok(lines)
        })
        .collect::<Result<_, CorpusError>>()?;
    std::fs::write(path, lines.concat()).map_err(|e| CorpusError::file(path, e))
}

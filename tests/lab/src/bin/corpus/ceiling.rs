//! Songs through limiters and clippers at several drives, and material that no limiter touched.

use crate::{RATE, write};
use brunt_lab::corpus::ceiling::{self, CeilingTruth};
use brunt_lab::corpus::mix::Library;
use brunt_lab::corpus::{CorpusError, mix, process, songs, unlimited};
use serde_json::{Value, json};
use std::path::Path;

/// The drive steps, dB over the point where the loudest peak just touches the ceiling.
const DRIVES_DB: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 9.0, 12.0];

/// Writes all, or one song, or one song through one processor; prints one row a file.
pub fn write_all(
    dir: &Path,
    only_song: Option<&str>,
    only_processor: Option<&str>,
) -> Result<(), CorpusError> {
    write::folder(dir)?;
    let mut library = Library::default();
    println!(
        "{:<40} {:>6} {:>6} {:>6} {:>7} {:>6}",
        "file", "median", "p90", "max", "lost50", "LU"
    );
    for song in songs::ALL.iter().filter(|s| only_song.is_none_or(|only| only == s.name)) {
        let mix = mix::render(song, RATE, &mut library)?;
        let hits = ceiling::programmed_hits(&mix);
        for (name, processor) in process::ALL {
            if only_processor.is_some_and(|only| only != *name) {
                continue;
            }
            for drive_db in DRIVES_DB {
                let both = process::run(*processor, &mix, drive_db)?;
                let truth = ceiling::at(&both, &hits);
                let file = format!("{}_{name}_{drive_db}", song.name);
                row(&file, &truth);
                let extra = json!({
                    "song": song.name, "processor": name, "drive_db": drive_db,
                    "ceiling_dbfs": 20.0 * f64::from(both.ceiling).log10(),
                    "implied_reduction_db": truth.reduction_db(0.5),
                    "implied_reduction_p90_db": truth.reduction_db(0.9),
                    "implied_reduction_max_db": truth.reduction_db(1.0),
                    "lost_db_median": truth.lost_db(0.5),
                    "loudness_change_lu": truth.loudness_change_lu,
                    "hits": per_hit(&truth),
                });
                write::pair(dir, &file, &both.after, &extra)?;
            }
        }
    }
    if only_song.is_none_or(|only| only == "unlimited") {
        for piece in unlimited::ALL {
            let audio = piece.render(RATE, &mut library)?;
            let extra = json!({ "song": piece.name, "processor": "none", "drive_db": 0.0 });
            write::pair(dir, &format!("unlimited_{}", piece.name), &audio, &extra)?;
        }
    }
    Ok(())
}

fn row(file: &str, truth: &CeilingTruth) {
    println!(
        "{file:<40} {:>6.2} {:>6.2} {:>6.2} {:>7.2} {:>6.2}",
        truth.reduction_db(0.5),
        truth.reduction_db(0.9),
        truth.reduction_db(1.0),
        truth.lost_db(0.5),
        truth.loudness_change_lu
    );
}

fn per_hit(truth: &CeilingTruth) -> Vec<Value> {
    truth
        .hits
        .iter()
        .map(|h| {
            json!({
                "time_s": h.time_s, "reduction_db": h.reduction_db, "lost_db": h.lost_db,
                "instruments": h.instruments.iter().map(|i| i.name()).collect::<Vec<_>>(),
            })
        })
        .collect()
}

//! How finished records of other people read: measures every file of the packages whole, and prints the
//! engine's table of percentiles, `plugin/engine/src/thresholds/records.rs`:
//! `records DATE FOLDER...`, a folder a package, named like it. `cargo xtask records` fetches them.

use std::error::Error;
use std::path::{Path, PathBuf};

use brunt_engine::records::{PERCENTILES, Percentiles, unusual, weak};
use brunt_engine::{THIRDS, over_curve_db};
use brunt_lab::corpus::measure::measure;
use brunt_lab::corpus::records;
use rayon::prelude::*;

/// Shortest piece that counts as a record, s: a shorter one is a loop or a jingle.
const LEAST_S: f64 = 60.0;

/// What is kept of one record.
struct Record {
    contrast_db: f64,
    plr_db: f64,
    psr_median_db: f64,
    /// `None` where it is not known.
    reduction_db: Option<f64>,
    dip_db: f64,
    lift_db: f64,
    thirds_db: [Option<f64>; THIRDS],
}

fn main() -> Result<(), Box<dyn Error>> {
    const USAGE: &str = "usage: records DATE FOLDER...";
    let mut args = std::env::args().skip(1);
    let date = args.next().ok_or(USAGE)?;
    let folders: Vec<PathBuf> = args.map(PathBuf::from).collect();
    if folders.is_empty() {
        return Err(USAGE.into());
    }
    let mut all = Vec::new();
    let mut packages = Vec::new();
    for folder in &folders {
        let name = folder.file_name().ok_or(USAGE)?.to_string_lossy().into_owned();
        let found: Result<Vec<_>, String> =
            records::files(folder)?.par_iter().map(|path| read(path)).collect();
        let found: Vec<Record> = found?.into_iter().flatten().collect();
        eprintln!("{name}: {}", found.len());
        if !found.is_empty() {
            packages.push((name, found.len()));
            all.extend(found);
        }
    }
    print!("{}", table(&date, &packages, &all)?);
    Ok(())
}

/// Measures one file whole; `None` where it is too short, cannot be read or has no drums.
fn read(path: &Path) -> Result<Option<Record>, String> {
    let Some(audio) = records::whole(path).map_err(|e| e.to_string())? else { return Ok(None) };
    let seconds = audio.len() as f64 / f64::from(audio.rate);
    if seconds < LEAST_S {
        return Ok(None);
    }
    let measured = measure(&audio).map_err(|e| e.to_string())?;
    if !records::drums_in(measured.hits.len(), seconds) {
        return Ok(None);
    }
    let r = &measured.readings;
    let mids = &r.leaks.mids;
    let record = || {
        Some(Record {
            contrast_db: r.punch.contrast_db?,
            plr_db: r.loudness.plr_db?,
            psr_median_db: r.loudness.psr_median_db?,
            reduction_db: r.leaks.ceiling.implied_reduction_db,
            dip_db: mids.dip_db?,
            lift_db: mids.lift_db?,
            thirds_db: over_curve_db(&r.balance.thirds_dbfs),
        })
    };
    Ok(record())
}

/// The source of the engine's table.
fn table(
    date: &str,
    packages: &[(String, usize)],
    all: &[Record],
) -> Result<String, Box<dyn Error>> {
    let of = |value: fn(&Record) -> Option<f64>| -> Result<Percentiles, Box<dyn Error>> {
        records::percentiles(all.iter().filter_map(value)).ok_or_else(|| "no record".into())
    };
    let known = all.iter().filter(|record| record.reduction_db.is_some()).count();
    let (dip, lift) = (of(|r| Some(r.dip_db))?, of(|r| Some(r.lift_db))?);
    let weakest = |record: &Record| weak(unusual([record.dip_db, record.lift_db], [&dip, &lift]));
    let mids = records::percentiles(all.iter().map(weakest)).ok_or("no record")?;
    let mut thirds = String::new();
    for band in 0..THIRDS {
        // A band without anything in it lies under all others, at the least that is kept.
        let level = |record: &Record| record.thirds_db[band].unwrap_or(-100.0).max(-100.0);
        let band = records::percentiles(all.iter().map(level)).ok_or("no record")?;
        thirds.push_str(&format!("    {},\n", source(&band)));
    }
    let mut text = format!(
        "//! How finished records of other people read: percentiles over music of games and amateur metal out\n\
         //! of Debian packages, each record measured whole by this engine. Those with drums (two hits a\n\
         //! second or more) that last a minute or longer count. Written by `cargo xtask records`.\n\n\
         use crate::percentiles::Percentiles;\n\
         use crate::spectrum::THIRDS;\n\n\
         /// Number of records. Ours: see [`PACKAGES`].\n\
         pub const RECORDS: u32 = {};\n\
         /// The Debian packages that they come from, and how many of each. Ours: those of the\n\
         /// benches of the ceiling, and packages of under 50 MB besides, none left out for how it reads.\n\
         pub const PACKAGES: [(&str, u32); {}] = [\n",
        all.len(),
        packages.len()
    );
    for (name, count) in packages {
        text.push_str(&format!("    (\"{name}\", {count}),\n"));
    }
    text.push_str("];\n");
    text.push_str(&format!(
        "/// The day of the measurement. Ours.\npub const MEASURED_ON: &str = \"{date}\";\n"
    ));
    let mut one = |doc: &str, name: &str, values: &Percentiles| {
        text.push_str(&format!(
            "\n/// {doc} Ours: `cargo xtask records`.\npub const {name}: Percentiles = {};\n",
            source(values)
        ));
    };
    one(
        "Hit contrast, median over a record's hits, dB.",
        "CONTRAST_DB",
        &of(|r| Some(r.contrast_db))?,
    );
    one("PLR, dB.", "PLR_DB", &of(|r| Some(r.plr_db))?);
    one("PSR, median, dB.", "PSR_MEDIAN_DB", &of(|r| Some(r.psr_median_db))?);
    one(
        &format!(
            "Implied reduction, median over a record's hits, dB, of the {known} where it is known."
        ),
        "IMPLIED_REDUCTION_DB",
        &of(|r| r.reduction_db)?,
    );
    one("Dip of the mids, dB, as in [`Mids`](crate::Mids).", "DIP_DB", &dip);
    one("Lift of lows and highs, dB, as in [`Mids`](crate::Mids).", "LIFT_DB", &lift);
    one(
        "How weak the mids are by dip and lift, as in [`weak`](crate::records::weak).",
        "MIDS",
        &mids,
    );
    text.push_str(&format!(
        "\n/// Each third octave over the published curve, dB, as in\n\
         /// [`over_curve_db`](crate::over_curve_db). Ours: `cargo xtask records`.\n\
         pub const THIRDS_DB: [Percentiles; THIRDS] = [\n{thirds}];\n"
    ));
    Ok(text)
}

fn source(values: &Percentiles) -> String {
    let numbers: Vec<String> = values.0.iter().map(|v| format!("{v:?}")).collect();
    debug_assert_eq!(numbers.len(), PERCENTILES);
    format!("Percentiles([{}])", numbers.join(", "))
}

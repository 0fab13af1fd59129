//! The table of the ceiling estimate: error, rank, detection, false alarms, range, codecs, on the
//! songs and kits that no fit has seen ([`songs::HELD_OUT`]).

mod files;
mod table;

use std::collections::BTreeMap;
use std::error::Error;

use brunt_engine::{Ceiling, CeilingKind};

pub use files::Songs;
use files::{File, Kind};
use table::{Table, percentile, share};

/// Runs the bench over those songs, and prints the table.
pub fn run(songs: Songs, csv: Option<&str>) -> Result<(), Box<dyn Error>> {
    let files = files::all(songs)?;
    if let Some(path) = csv {
        files::write(path, &files)?;
    }
    let limited: Vec<&File> = files.iter().filter(|f| f.kind == Kind::Driven).collect();
    let songs: std::collections::BTreeSet<&str> = files.iter().map(|f| f.song.as_str()).collect();
    println!(
        "{} files of {} songs and kits that no fit has seen; drives 0 to 9 dB",
        files.len(),
        songs.len()
    );
    let mut table = Table::new();
    errors(&mut table, "all processors", &limited);
    let unseen = |f: &&&File| f.processor.starts_with("alimiter") || f.processor == "sox-compand";
    let unseen: Vec<&File> = limited.iter().filter(unseen).copied().collect();
    errors(&mut table, "programs that no fit has seen", &unseen);
    let drums: Vec<&File> = files.iter().filter(|f| f.kind == Kind::Drums).collect();
    if !drums.is_empty() {
        errors(&mut table, "a limited drum bus, read alone", &drums);
    }
    let (on_drums, on_mix): (Vec<&File>, Vec<&File>) =
        limited.iter().partition(|f| drums.iter().any(|drums| drums.processor == f.processor));
    let mean: Truth = |file| file.mean_db;
    ranks(&mut table, "all processors", &limited, mean);
    ranks(&mut table, "all, by the truth's 90th percentile", &limited, |file| file.truth[1]);
    ranks(&mut table, "on the mix bus", &on_mix, mean);
    ranks(&mut table, "on the drum bus, read from the mix", &on_drums, mean);
    ranks(&mut table, "on the drum bus, read from the drums", &drums, mean);
    detection(&mut table, &files);
    codecs(&mut table, &files);
    table.print();
    by_group("processor", &limited, |f| &f.processor);
    by_group("song", &limited, |f| &f.song);
    Ok(())
}

/// Absolute error of one of the readings, dB; files whose reading is unknown count as read 0.
fn error(file: &File, reading: fn(&Ceiling) -> Option<f64>, truth: f64) -> f64 {
    (reading(&file.read).unwrap_or(0.0) - truth.max(0.0)).abs()
}

fn median_error(file: &File) -> f64 {
    error(file, |c| c.implied_reduction_db, file.truth[0])
}

fn p90_error(file: &File) -> f64 {
    error(file, |c| c.implied_reduction_p90_db, file.truth[1])
}

fn errors(table: &mut Table, what: &str, files: &[&File]) {
    let figures = |error: fn(&File) -> f64| {
        let errors: Vec<f64> = files.iter().map(|f| error(f)).collect();
        (percentile(&errors, 0.5), percentile(&errors, 0.9))
    };
    for (name, error) in
        [("median over hits", median_error as fn(&File) -> f64), ("90th percentile", p90_error)]
    {
        let (median, most) = figures(error);
        table.row(&format!("error of the {name}, {what}, median"), "dB", median, "1.0 or less");
        table.row(&format!("error of the {name}, {what}, p90"), "dB", most, "2.5 or less");
    }
}

/// What a file lost, as one number.
type Truth = fn(&File) -> f64;

/// Spearman's rank correlation of the reading with the truth over the drives of one song through
/// one processor. The truth is the mean over hits: where a processor catches one hit in ten, the
/// 90th percentile of the truth is zero at several drives, and no reading ranks over 0.87.
fn ranks(table: &mut Table, what: &str, files: &[&File], of_truth: Truth) {
    let mut series: BTreeMap<(&str, &str), Vec<&File>> = BTreeMap::new();
    for file in files {
        series.entry((&file.song, &file.processor)).or_default().push(file);
    }
    let mut all: Vec<(f64, (&str, &str))> = Vec::new();
    for (name, files) in series {
        let truth: Vec<f64> = files.iter().map(|f| of_truth(f)).collect();
        let read: Vec<f64> =
            files.iter().map(|f| f.read.implied_reduction_p90_db.unwrap_or(0.0)).collect();
        all.extend(table::spearman(&truth, &read).map(|rank| (rank, name)));
    }
    let Some((worst, (song, processor))) = all.iter().copied().min_by(|a, b| a.0.total_cmp(&b.0))
    else {
        return;
    };
    let ranks: Vec<f64> = all.iter().map(|(rank, _)| *rank).collect();
    let under = ranks.iter().filter(|rank| **rank < 0.9).count();
    table.row(&format!("rank of the drives, {what}, median"), "", percentile(&ranks, 0.5), "0.97");
    let what = format!("the same, worst ({song} / {processor}; {under} of {} under)", ranks.len());
    table.row(&what, "", worst, "0.90");
}

fn called(file: &File) -> bool {
    matches!(file.read.kind, Some(CeilingKind::Limiter | CeilingKind::Clipper))
}

fn detection(table: &mut Table, files: &[File]) {
    let driven = || files.iter().filter(|f| f.kind == Kind::Driven);
    let hit = share(driven().filter(|f| f.truth[0] >= 2.0), called);
    table.row("says limiting at 2 dB or more", "%", hit, "95 or more");
    let plain = share(files.iter().filter(|f| f.kind == Kind::Unlimited), called);
    table.row("false alarm, unlimited files, faders moved", "%", plain, "2 or less");
    if files.iter().any(|f| f.kind == Kind::Part) {
        let parts = share(files.iter().filter(|f| f.kind == Kind::Part), called);
        table.row("false alarm, parts of sessions alone", "%", parts, "2 or less");
    }
    let inside = share(driven(), |f| {
        let Some((low, high)) = f.read.implied_reduction_range_db else { return false };
        // Half of the last digit shown.
        (low - 0.05..=high + 0.05).contains(&f.truth[0].max(0.0))
    });
    table.row("90 % range covers the truth", "%", inside, "85 to 95");
    let wide: Vec<f64> = driven()
        .filter(|f| f.truth[0] >= 1.0)
        .filter_map(|f| f.read.implied_reduction_range_db)
        .map(|(low, high)| high - low)
        .collect();
    table.row("width of the range at 1 dB or more, median", "dB", percentile(&wide, 0.5), "");
}

fn codecs(table: &mut Table, files: &[File]) {
    let mut by_step: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for after in files {
        let Kind::After(step) = &after.kind else { continue };
        let plain = files.iter().find(|f| {
            f.kind == Kind::Driven
                && f.song == after.song
                && f.processor == after.processor
                && f.drive_db == after.drive_db
        });
        if let Some(plain) = plain {
            by_step.entry(step).or_default().push(p90_error(after) - p90_error(plain));
        }
    }
    for (step, growth) in by_step {
        let mean = growth.iter().sum::<f64>() / growth.len() as f64;
        table.row(&format!("error of the p90 grows after {step}, mean"), "dB", mean, "0.5 or less");
    }
}

fn by_group<'a>(what: &str, files: &[&'a File], name: impl Fn(&'a File) -> &'a String) {
    let mut groups: BTreeMap<&str, Vec<&File>> = BTreeMap::new();
    for file in files {
        groups.entry(name(file)).or_default().push(file);
    }
    println!("\n{what:<20} error, dB: median over hits  90th percentile   bias of the latter");
    for (name, files) in groups {
        let errors = |error: fn(&File) -> f64| {
            let errors: Vec<f64> = files.iter().map(|f| error(f)).collect();
            format!("{:.2} / {:.2}", percentile(&errors, 0.5), percentile(&errors, 0.9))
        };
        let bias = files
            .iter()
            .map(|f| f.read.implied_reduction_p90_db.unwrap_or(0.0) - f.truth[1])
            .sum::<f64>()
            / files.len() as f64;
        println!("{name:<20} {:>27} {:>16} {bias:>20.2}", errors(median_error), errors(p90_error));
    }
}

//! The demo's table: versions by leaks, with the readings beside them.

use std::fmt::Write;

use brunt_demo::song::{Session, Version};
use brunt_engine::{LeakKind, State};
use brunt_report::report::Report;
use brunt_report::words::{leak_name, state_word};

use super::limiter_meter;

/// One version.
pub struct Row {
    version: Version,
    report: Report,
    limiter: Option<[f64; 3]>,
}

impl Row {
    /// A version and what the plug-in has read on it.
    pub fn new(session: &Session, report: Report) -> Self {
        Self { version: session.version, report, limiter: limiter_meter(session) }
    }
}

/// The leak that was put into a version.
fn planted(version: Version) -> Option<LeakKind> {
    match version {
        Version::Clean => None,
        Version::Ceiling => Some(LeakKind::Ceiling),
        Version::Timing => Some(LeakKind::Timing),
        Version::Clutter => Some(LeakKind::Clutter),
        Version::Drive => Some(LeakKind::Drive),
        Version::Mids => Some(LeakKind::Mids),
    }
}

/// The table and what is to be said about it.
pub fn print(rows: &[Row]) -> String {
    let mut cells: Vec<Vec<String>> = vec![heads()];
    cells.extend(rows.iter().map(line));
    let widths: Vec<usize> = (0..cells[0].len())
        .map(|column| cells.iter().map(|row| row[column].chars().count()).max().unwrap_or(0))
        .collect();
    let mut text = String::new();
    for row in &cells {
        let padded: Vec<String> = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(column, (cell, width))| {
                // Words to the left, numbers to the right.
                if column <= LeakKind::ALL.len() {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            })
            .collect();
        let _ = writeln!(text, "{}", padded.join("  ").trim_end());
    }
    text.push('\n');
    explain(rows, &mut text);
    text
}

fn heads() -> Vec<String> {
    let mut heads = vec!["version".to_owned()];
    heads.extend(LeakKind::ALL.iter().map(|kind| leak_name(*kind).to_lowercase()));
    heads.extend(["contrast", "reduction", "loudness", "PLR", "mid def."].map(str::to_owned));
    heads
}

fn line(row: &Row) -> Vec<String> {
    let report = &row.report;
    let mut cells = vec![row.version.name().to_owned()];
    cells.extend(LeakKind::ALL.iter().map(|kind| {
        let mark = if planted(row.version) == Some(*kind) { "*" } else { "" };
        format!("{}{mark}", leak(report, *kind))
    }));
    cells.extend([
        number(report.punch.contrast_db),
        number(report.leaks.ceiling.implied_reduction_db),
        number(report.loudness.integrated_lufs),
        number(report.loudness.plr_db),
        number(report.balance.mid_deficit_db),
    ]);
    cells
}

fn leak(report: &Report, kind: LeakKind) -> String {
    let state = state_word(report.leak(kind).state);
    let small = report.leaks.small_speakers_db(kind);
    match small.or(report.headline(kind).db) {
        Some(cost) => format!("{state} {cost:.1}"),
        None => state.to_owned(),
    }
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"))
}

fn explain(rows: &[Row], text: &mut String) {
    let mut say = |line: &str| {
        text.push_str(line);
        text.push('\n');
    };
    say(
        "* the leak that was put into the version. A leak's number is its cost, dB; of mids that are weak what \
         small speakers lose.",
    );
    say(
        "contrast: median hit contrast, dB. reduction: estimated gain reduction, median over hits, dB.",
    );
    say("loudness: integrated, LUFS. PLR and mid deficit (mid def.), dB.");
    say("In \"mids\" the clean mix is the reference, in the side-chain and of the file check.");
    for row in rows {
        if let Some([median, p90, most]) = row.limiter {
            let read = &row.report.leaks.ceiling;
            say(&format!(
                "In \"{}\" the limiter's own meter shows {median:.1} dB median, {p90:.1} dB 90th \
                 percentile, {most:.1} dB max over hits; Brunt, from the mix alone, reads {}, {} and \
                 {} dB.",
                row.version.name(),
                number(read.implied_reduction_db),
                number(read.implied_reduction_p90_db),
                number(read.implied_reduction_max_db),
            ));
        }
    }
    say(&findings(rows));
    for kind in LeakKind::ALL {
        let Some(unknown) =
            rows.iter().map(|row| row.report.leak(kind)).find(|leak| leak.state == State::Unknown)
        else {
            continue;
        };
        say(&format!("{} is unknown: {}", leak_name(kind), unknown.says));
    }
}

/// Which planted leaks were found, stayed under the limit of a warning, or are not known, and which
/// were seen where none was put. With a cost under the limit goes what the version has lost.
fn findings(rows: &[Row]) -> String {
    let (mut found, mut small, mut unknown, mut alarms) = (vec![], vec![], vec![], vec![]);
    let contrast = |row: &Row| row.report.punch.contrast_db;
    let clean = rows.iter().find(|row| row.version == Version::Clean).and_then(contrast);
    for row in rows {
        for kind in LeakKind::ALL {
            let state = row.report.leak(kind).state;
            let seen = state.loses();
            let name = leak_name(kind).to_lowercase();
            match (planted(row.version) == Some(kind), seen) {
                (true, true) => found.push(name),
                (true, false) if state == State::Unknown => unknown.push(name),
                (true, false) => small.push(format!(
                    "{name} (reads {} dB; the median hit has lost {} dB)",
                    number(row.report.headline(kind).db),
                    number(clean.zip(contrast(row)).map(|(clean, now)| clean - now)),
                )),
                (false, true) => alarms.push(format!("{name} in {}", row.version.name())),
                (false, false) => {}
            }
        }
    }
    let list = |names: &[String]| {
        if names.is_empty() { "none".to_owned() } else { names.join(", ") }
    };
    format!(
        "Put in and found: {}. Put in and under the limit of a warning: {}. Not known: {}. Seen where \
         none was put in: {}.",
        list(&found),
        list(&small),
        list(&unknown),
        list(&alarms)
    )
}

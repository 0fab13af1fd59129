//! Third-octave levels of songs under known tone changes, as rows for looking at what tells the
//! shapes of a weak midrange apart: `balance OUT.csv [DRAWN [flat]]`; with `flat` the unchanged mixes alone.
//! `balance --records FOLDER` prints what the meter says of records of other people, as they are and with a
//! dip or shelves of 9 dB.

use std::error::Error;
use std::io::Write;
use std::path::{Path, PathBuf};

use brunt_engine::{Mids, State};
use brunt_lab::corpus::ceiling::quantile;
use brunt_lab::corpus::measure::measure;
use brunt_lab::corpus::mix::{Library, render};
use brunt_lab::corpus::process::equal::{bell, dip, high_shelf, low_shelf, shelves, tilt};
use brunt_lab::corpus::{Song, Stereo, kits, records, shuffle, songs};
use rayon::prelude::*;

fn main() -> Result<(), Box<dyn Error>> {
    const USAGE: &str = "usage: balance OUT.csv [DRAWN [flat]] | --records FOLDER";
    let mut args = std::env::args().skip(1);
    let out = args.next().ok_or(USAGE)?;
    if out == "--records" {
        return of_records(args.next().ok_or(USAGE)?.as_ref());
    }
    let drawn: u64 = args.next().map_or(Ok(0), |count| count.parse())?;
    let flat_only = args.next().is_some();
    let mut all: Vec<Song> = songs::ALL.to_vec();
    all.extend((0..drawn).map(|seed| shuffle::draw(songs::ALL, &kits::NAMES, 20.0, 9_000 + seed)));
    let rows: Vec<Vec<String>> = all
        .par_iter()
        .map_init(Library::default, |library, song| {
            let mix = match render(song, 48_000, library) {
                Ok(mix) => mix.first(40.0).audio,
                Err(error) => {
                    eprintln!("{}: {error}", song.name);
                    return Vec::new();
                }
            };
            changes(&mix, flat_only)
                .into_iter()
                .map(|(name, db, audio)| row(song, name, db, &audio))
                .collect()
        })
        .collect();
    let mut file = std::fs::File::create(&out)?;
    for row in rows.iter().flatten() {
        writeln!(file, "{row}")?;
    }
    Ok(())
}

/// Prints the states of the mids of all records with drums under a folder, and what the changes do to
/// the number that they follow.
fn of_records(folder: &Path) -> Result<(), Box<dyn Error>> {
    let read = |path: &PathBuf| -> Result<Option<[Mids; 3]>, String> {
        let Some(record) = records::passage(path).map_err(|e| e.to_string())? else {
            return Ok(None);
        };
        let changed = [record.clone(), dip(&record, 9.0), shelves(&record, 9.0)];
        let [flat, dip, shelves] = changed.map(|audio| measure(&audio).expect("48 kHz"));
        let mids = [&flat, &dip, &shelves].map(|read| read.readings.leaks.mids);
        let known = mids.iter().all(|mids| mids.weakness_db.is_some());
        Ok((records::has_drums(flat.hits.len()) && known).then_some(mids))
    };
    let all: Result<Vec<_>, String> = records::files(folder)?.par_iter().map(read).collect();
    let all: Vec<[Mids; 3]> = all?.into_iter().flatten().collect();
    println!("{} records with drums", all.len());
    let weakness = |at: usize| all.iter().map(move |mids| mids[at].weakness_db.unwrap_or(f64::NAN));
    for (at, name) in ["as they are", "a dip of 9 dB", "shelves of 9 dB"].into_iter().enumerate() {
        let share = |state: State| {
            let count = all.iter().filter(|mids| mids[at].state == state).count();
            100.0 * count as f64 / all.len().max(1) as f64
        };
        let (what, of): (&str, Vec<f64>) = match at {
            0 => ("weakness", weakness(0).collect()),
            _ => ("weakness moves by", weakness(at).zip(weakness(0)).map(|(a, b)| a - b).collect()),
        };
        println!(
            "{name:<16} clear {:.0} %, watch {:.0} %, leaking {:.0} %; {what} {:+.1}, {:+.1}, {:+.1} dB \
             (5th, 50th, 95th percentile)",
            share(State::Clear),
            share(State::Watch),
            share(State::Leaking),
            quantile(of.clone(), 0.05),
            quantile(of.clone(), 0.5),
            quantile(of, 0.95),
        );
    }
    let mean = weakness(0).sum::<f64>() / all.len() as f64;
    let squares = weakness(0).map(|db| (db - mean).powi(2)).sum::<f64>();
    println!("standard deviation of the weakness {:.1} dB", (squares / all.len() as f64).sqrt());
    Ok(())
}

/// The tone changes: name, size in dB, audio.
fn changes(mix: &Stereo, flat_only: bool) -> Vec<(&'static str, f64, Stereo)> {
    let mut all = vec![("flat", 0.0, mix.clone())];
    if flat_only {
        return all;
    }
    for db in [3.0, 6.0, 9.0] {
        all.push(("dip", db, dip(mix, db)));
        all.push(("wide-dip", db, bell(mix, 770.0, 0.5, -db)));
        all.push(("shelves", db, shelves(mix, db)));
        all.push(("low", db, low_shelf(mix, 100.0, db)));
        all.push(("high", db, high_shelf(mix, 8_000.0, db)));
        all.push(("low60", db, low_shelf(mix, 60.0, db)));
        all.push(("high12", db, high_shelf(mix, 12_000.0, db)));
    }
    for db in [-2.0, -1.0, 1.0, 2.0] {
        all.push(("tilt", db, tilt(mix, db)));
    }
    all
}

fn row(song: &Song, name: &str, db: f64, audio: &Stereo) -> String {
    let readings = measure(audio).expect("48 kHz").readings;
    let mut row = format!("{},{name},{db}", song.name);
    for third in readings.balance.thirds_dbfs {
        row.push_str(&format!(",{:.4}", third.unwrap_or(-200.0)));
    }
    row
}

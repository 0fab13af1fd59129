//! Third-octave levels of songs under known tone changes, as rows for looking at what tells the
//! shapes of a weak midrange apart: `balance OUT.csv [DRAWN [flat]]`; with `flat` the unchanged mixes alone.

use std::error::Error;
use std::io::Write;

use brunt_tests::corpus::measure::measure;
use brunt_tests::corpus::mix::{Library, render};
use brunt_tests::corpus::process::equal::{bell, high_shelf, low_shelf};
use brunt_tests::corpus::{Song, Stereo, kits, shuffle, songs};
use rayon::prelude::*;

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let out = args.next().ok_or("usage: balance OUT.csv [DRAWN [flat]]")?;
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

/// The tone changes: name, size in dB, audio.
fn changes(mix: &Stereo, flat_only: bool) -> Vec<(&'static str, f64, Stereo)> {
    let mut all = vec![("flat", 0.0, mix.clone())];
    if flat_only {
        return all;
    }
    for db in [3.0, 6.0, 9.0] {
        all.push(("dip", db, bell(mix, 700.0, 0.7, -db)));
        all.push(("wide-dip", db, bell(mix, 770.0, 0.5, -db)));
        all.push(("shelves", db, high_shelf(&low_shelf(mix, 60.0, db), 12_000.0, db)));
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

/// A tilt of `db` an octave, as shelves an octave apart from 31 Hz to 16 kHz.
fn tilt(mix: &Stereo, db: f64) -> Stereo {
    (0..10).fold(mix.clone(), |mix, octave| high_shelf(&mix, 31.25 * 2f64.powi(octave), db))
}

fn row(song: &Song, name: &str, db: f64, audio: &Stereo) -> String {
    let readings = measure(audio).expect("48 kHz").readings;
    let mut row = format!("{},{name},{db}", song.name);
    for third in readings.balance.thirds_dbfs {
        row.push_str(&format!(",{:.4}", third.unwrap_or(-200.0)));
    }
    row
}

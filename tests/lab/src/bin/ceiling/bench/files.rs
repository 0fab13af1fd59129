//! The files of the bench: what was done to each, what it truly lost, and what the meter reads.

use std::collections::BTreeMap;
use std::error::Error;
use std::io::Write;
use std::path::{Path, PathBuf};

use brunt_engine::Ceiling;
use brunt_engine::parts::PartRole;
use brunt_lab::corpus::ceiling::at;
use brunt_lab::corpus::measure::measure;
use brunt_lab::corpus::process::after::After;
use brunt_lab::corpus::process::compress::Compressor;
use brunt_lab::corpus::process::{self, Processed};
use brunt_lab::corpus::{Mix, Song, Stereo, mix, records, shuffle, songs, unlimited};
use brunt_lab::session::{self, Plan, testing};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;

/// Drives of a song through a processor, dB.
const DRIVES: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 7.5, 9.0];
/// Processors that a codec or another rate follows.
const THEN_CODED: [&str; 3] = ["limit-fast", "alimiter-5-50", "hard-clip"];
/// Drives that a codec or another rate follows, dB.
const CODED_DRIVES: [f64; 2] = [3.0, 6.0];
/// Fader moves of unlimited files, dB.
const FADERS: [f64; 2] = [-7.3, 2.1];
/// Buses alone and mixes through compressors with a slow attack: they look limited and are not.
const BUSES: [&[&str]; 4] = [
    &["drums"],
    &["bass"],
    &["guitar-left", "guitar-right"],
    &["bass", "guitar-left", "guitar-right"],
];
const COMPRESSORS: [Compressor; 2] = [
    Compressor { below_peak_db: 14.0, ratio: 2.0, attack_ms: 10.0, release_ms: 100.0 },
    Compressor { below_peak_db: 18.0, ratio: 4.0, attack_ms: 30.0, release_ms: 200.0 },
];

/// Processors that records go through.
const ON_RECORDS: [&str; 6] = [
    "limit-fast",
    "limit-program",
    "hard-clip",
    "alimiter-5-50",
    "alimiter-5-50-asc",
    "sox-compand",
];

/// Length of a drawn song, s.
const DRAWN_S: f64 = 30.0;

/// What a file is.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// Driven into a processor.
    Driven,
    /// The same, and a codec or another rate behind it.
    After(String),
    /// The drum bus of a mix of which that alone is driven into a processor.
    Drums,
    /// Nothing limited it.
    Unlimited,
    /// Nothing limited it, and it is a part of a session, all of them or all but for the drums.
    Part,
}

/// A file's truth and reading.
#[derive(Clone, Debug)]
pub struct File {
    pub song: String,
    pub processor: String,
    pub drive_db: f64,
    pub kind: Kind,
    /// Reduction at the meter's hits: median, 90th percentile, largest, dB.
    pub truth: [f64; 3],
    /// The same, mean over hits.
    pub mean_db: f64,
    pub read: Ceiling,
}

type Files = Result<Vec<File>, Box<dyn Error + Send + Sync>>;

/// Which songs are played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Songs {
    /// The held-out ones.
    Written,
    /// Two of them, through few processors.
    Short,
    /// So many drawn from their sections and kits and from other seeds than any fit's, from that seed on.
    Drawn(u64, u64),
    /// The records under that folder, those with drums.
    Records(PathBuf),
}

impl Songs {
    fn list(&self) -> Vec<Song> {
        let held_out = |names: &[&str]| -> Vec<Song> {
            songs::ALL.iter().filter(|song| names.contains(&song.name)).copied().collect()
        };
        match *self {
            Self::Records(_) => Vec::new(),
            Self::Written => held_out(&songs::HELD_OUT),
            Self::Short => held_out(&songs::HELD_OUT[..2]),
            Self::Drawn(count, seed) => {
                let from = held_out(&songs::HELD_OUT);
                let kits: Vec<&str> = from.iter().map(|song| song.kit).collect();
                let drawn = |n: u64| Song {
                    // Leaked, as the rest of a drawn song is.
                    name: format!("drawn-{n:02}").leak(),
                    ..shuffle::draw_wide(&from, &kits, DRAWN_S, seed * 1_000_003 + n)
                };
                (0..count).map(drawn).collect()
            }
        }
    }
}

/// Renders, processes and measures all of them.
pub fn all(songs: Songs) -> Result<Vec<File>, Box<dyn Error>> {
    if let Songs::Records(folder) = &songs {
        return of_records(folder);
    }
    let (of_songs, short) = (songs.list(), songs == Songs::Short);
    let files: Files =
        of_songs.par_iter().map(|song| of_song(song, short)).try_reduce(Vec::new, joined);
    let mut files = files.map_err(|e| e.to_string())?;
    files.extend(of_unlimited().map_err(|e| e.to_string())?);
    if !short {
        files.extend(of_parts().map_err(|e| e.to_string())?);
    }
    Ok(files)
}

/// Every record with as many hits, through a few processors that no fit has seen and one of each make of
/// our own.
fn of_records(folder: &Path) -> Result<Vec<File>, Box<dyn Error>> {
    let of_record = |(index, path): (usize, &PathBuf)| -> Files {
        let Some(record) = records::passage(path)? else { return Ok(Vec::new()) };
        let mut rng = Pcg64Mcg::seed_from_u64(index as u64);
        let audio = records::lifted(&record, &mut rng);
        if !records::has_drums(measure(&audio)?.hits.len()) {
            return Ok(Vec::new());
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy().replace(',', " ");
        let mix = Mix { audio, buses: BTreeMap::new(), truth: Vec::new() };
        let mut files = vec![alone(&name, "mix", Kind::Unlimited, &mix.audio)?];
        for (processor, on) in process::ALL.iter().filter(|p| ON_RECORDS.contains(&p.0)) {
            for drive_db in DRIVES {
                let processed = process::run(*on, &mix, drive_db)?;
                let after = processed.after.clone();
                files.push(read(&name, processor, drive_db, Kind::Driven, &processed, &after)?);
            }
        }
        Ok(files)
    };
    let paths = records::files(folder)?;
    let all: Files = paths.par_iter().enumerate().map(of_record).try_reduce(Vec::new, joined);
    Ok(all.map_err(|e| e.to_string())?)
}

fn joined(mut all: Vec<File>, more: Vec<File>) -> Files {
    all.extend(more);
    Ok(all)
}

fn of_song(song: &Song, short: bool) -> Files {
    let mut files = Vec::new();
    let mix = mix::render(song, 48_000, &mut mix::Library::default())?;
    for (index, &(name, processor)) in process::ALL.iter().enumerate() {
        if short && index % 4 != 0 {
            continue;
        }
        for drive_db in DRIVES {
            let processed = process::run(processor, &mix, drive_db)?;
            let file =
                |kind, heard: &Stereo| read(song.name, name, drive_db, kind, &processed, heard);
            files.push(file(Kind::Driven, &processed.after)?);
            if processor.on_drums() {
                let drums = process::run_on_drums(processor, &mix, drive_db)?;
                files.push(read(song.name, name, drive_db, Kind::Drums, &drums, &drums.after)?);
            }
            if short || !THEN_CODED.contains(&name) || !CODED_DRIVES.contains(&drive_db) {
                continue;
            }
            for step in [After::Mp3, After::Aac, After::Opus, After::OtherRate] {
                files.push(file(Kind::After(step.name()), &step.run(&processed.after)?)?);
            }
        }
    }
    let mut plain = vec![("mix".to_owned(), mix.audio.clone())];
    for buses in BUSES {
        let mut audio = Stereo::silence(48_000, mix.audio.len());
        // Without one of them it would be another combination once more.
        let played: Vec<&Stereo> = buses.iter().filter_map(|name| mix.buses.get(name)).collect();
        if played.len() == buses.len() && played.iter().all(|bus| bus.peak() > 0.0) {
            played.iter().for_each(|bus| audio.add(bus, 0, 1.0, 1.0));
            plain.push((buses.join("+"), audio));
        }
    }
    for compressor in COMPRESSORS {
        let name = format!("compressed {}:1", compressor.ratio);
        plain.push((name, compressor.run(&mix.audio)));
    }
    for (name, audio) in plain {
        for fader in FADERS {
            let faded = After::Fader(fader).run(&audio)?;
            files.push(alone(song.name, &name, Kind::Unlimited, &faded)?);
        }
    }
    Ok(files)
}

/// Pads, brushes and other material made to look limited, of songs that no fit has seen.
fn of_unlimited() -> Files {
    let mut library = mix::Library::default();
    let mut files = Vec::new();
    let seen = |piece: &&unlimited::Unlimited| {
        let own = !songs::ALL.iter().any(|song| song.name == piece.song.name);
        own || songs::HELD_OUT.contains(&piece.song.name)
    };
    for piece in unlimited::ALL.iter().filter(seen) {
        let audio = piece.render(48_000, &mut library)?;
        for fader in FADERS {
            let faded = After::Fader(fader).run(&audio)?;
            files.push(alone(piece.song.name, piece.name, Kind::Unlimited, &faded)?);
        }
    }
    Ok(files)
}

/// The parts of the sessions of `tests/parts`, whose sounds no fit of the ceiling has heard, but for three
/// kits, each alone, all together, and all without the drums.
fn of_parts() -> Files {
    let of_plan = |plan: &Plan| -> Files {
        let session = session::render(plan, 48_000, &mut mix::Library::default())?;
        let mut files = Vec::new();
        let mut rest = Stereo::silence(48_000, session.stems[0].audio.len());
        for stem in &session.stems {
            files.push(alone(plan.name, stem.name, Kind::Part, &stem.audio)?);
            if stem.role != PartRole::Drums {
                rest.add(&stem.audio, 0, 1.0, 1.0);
            }
        }
        files.push(alone(plan.name, "all but drums", Kind::Part, &rest)?);
        files.push(alone(plan.name, "all", Kind::Part, &session.mix())?);
        Ok(files)
    };
    let files: Result<Vec<_>, _> = testing::all().par_iter().map(of_plan).collect();
    Ok(files?.into_iter().flatten().collect())
}

fn alone(
    song: &str,
    what: &str,
    kind: Kind,
    audio: &Stereo,
) -> Result<File, Box<dyn Error + Send + Sync>> {
    let both = Processed { before: audio.clone(), after: audio.clone(), ceiling: 1.0 };
    read(song, what, 0.0, kind, &both, audio)
}

fn read(
    song: &str,
    processor: &str,
    drive_db: f64,
    kind: Kind,
    processed: &Processed,
    heard: &Stereo,
) -> Result<File, Box<dyn Error + Send + Sync>> {
    let measured = measure(heard)?;
    let hits: Vec<_> = measured.times().into_iter().map(|t| (t, Vec::new())).collect();
    let truth = at(processed, &hits);
    Ok(File {
        song: song.to_owned(),
        processor: processor.to_owned(),
        drive_db,
        kind,
        truth: [0.5, 0.9, 1.0].map(|q| truth.reduction_db(q)),
        mean_db: truth.mean_reduction_db(),
        read: measured.readings.leaks.ceiling,
    })
}

/// Writes one line a file, for looking.
pub fn write(path: &str, files: &[File]) -> std::io::Result<()> {
    let mut out = std::io::BufWriter::new(std::fs::File::create(path)?);
    writeln!(
        out,
        "song,processor,drive_db,kind,median_db,p90_db,max_db,mean_db,read_median_db,low_db,high_db,\
         read_p90_db,read_max_db,says,state"
    )?;
    let number = |value: Option<f64>| value.map_or(String::new(), |v| format!("{v:.3}"));
    for f in files {
        let range = f.read.implied_reduction_range_db;
        writeln!(
            out,
            "{},{},{},{:?},{:.3},{:.3},{:.3},{:.3},{},{},{},{},{},{:?},{:?}",
            f.song,
            f.processor,
            f.drive_db,
            f.kind,
            f.truth[0],
            f.truth[1],
            f.truth[2],
            f.mean_db,
            number(f.read.implied_reduction_db),
            number(range.map(|r| r.0)),
            number(range.map(|r| r.1)),
            number(f.read.implied_reduction_p90_db),
            number(f.read.implied_reduction_max_db),
            f.read.kind,
            f.read.state,
        )?;
    }
    out.flush()
}

//! Makes the rows.

mod hands;
pub mod sessions;

use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Write};

use brunt_engine::{Config, Hit, Meter, Sink, TRACE_NAMES, Trace};
use brunt_lab::corpus::ceiling;
use brunt_lab::corpus::process::after::After;
use brunt_lab::corpus::process::{self, Processed, Processor, equal};
use brunt_lab::corpus::{self, Mix, Song, Stereo, mix, records, shuffle, songs};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Drives of the written songs, dB.
const DRIVES: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 7.5, 9.0];

type Done = Result<(), Box<dyn Error>>;

/// Rows of `count` drawn songs, each through a handful of processors at drives drawn too.
pub fn drawn(out: &str, count: u64, seed: u64, without: &str) -> Done {
    let mut rows = Rows::create(out)?;
    each_song(count, seed, without, |song, mut mix, rng| {
        if rng.random_bool(0.4) {
            tone(&mut mix, rng);
        }
        if rng.random_bool(0.3) {
            compress_drums(&mut mix, rng);
        }
        // Behind these the drum bus is no longer what is in the mix.
        let mut whole = true;
        if rng.random_bool(0.35) {
            compress(&mut mix, rng);
            whole = false;
        }
        whole &= !only_some_buses(&mut mix, rng);
        rows.unlimited([song.name, song.kit], &mix, rng)?;
        for _ in 0..7 {
            let has_drums = whole && mix.buses.contains_key("drums");
            let (name, processor) = processor(rng, has_drums);
            let drive = if rng.random_bool(0.3) {
                rng.random_range(0.3..3.0)
            } else {
                rng.random_range(1.0..13.0)
            };
            let processed = process::run(processor, &mix, drive)?;
            rows.take([song.name, song.kit], name, drive, &processed, rng)?;
        }
        Ok(())
    })?;
    rows.finish()
}

/// Rows of `count` drawn songs in other hands: another balance, strokes of uneven force, a compressor on
/// the mix; each as it is, and at drives drawn over what the song has, so that few of its hits or all of
/// them reach the ceiling.
pub fn uneven(out: &str, count: u64, seed: u64, without: &str) -> Done {
    let mut rows = Rows::create(out)?;
    each_song(count, seed, without, |song, mut mix, rng| {
        in_other_hands(&mut mix, rng);
        rows.driven([song.name, song.kit], &mix, 6, rng)
    })?;
    rows.finish()
}

fn in_other_hands(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    if rng.random_bool(0.7) {
        hands::balance(mix, rng);
    }
    if rng.random_bool(0.5) {
        tone(mix, rng);
    }
    if rng.random_bool(0.7) {
        hands::uneven(mix, rng);
    }
    if rng.random_bool(0.3) {
        compress(mix, rng);
    }
}

/// Rows of `count` drawn songs whose drum bus alone is limited or clipped, and of the songs as they
/// are: in a whole mix that shows little, so the fit has to see many.
pub fn on_drums(out: &str, count: u64, seed: u64, without: &str) -> Done {
    let mut rows = Rows::create(out)?;
    each_song(count, seed, without, |song, mut mix, rng| {
        if !mix.buses.contains_key("drums") {
            return Ok(());
        }
        if rng.random_bool(0.4) {
            tone(&mut mix, rng);
        }
        if rng.random_bool(0.3) {
            compress_drums(&mut mix, rng);
        }
        rows.unlimited([song.name, song.kit], &mix, rng)?;
        for _ in 0..6 {
            let (name, processor) = process::draw_on_drums(rng);
            let drive = rng.random_range(0.5..13.0);
            let processed = process::run(processor, &mix, drive)?;
            rows.take([song.name, song.kit], name, drive, &processed, rng)?;
        }
        Ok(())
    })?;
    rows.finish()
}

/// Rows of single buses and compressed mixes of `count` drawn songs: material that looks limited
/// and is not.
pub fn unlimited(out: &str, count: u64, seed: u64, without: &str) -> Done {
    const TAKES: [&[&str]; 6] = [
        &["guitar-left", "guitar-right"],
        &["bass"],
        &["bass", "guitar-left", "guitar-right"],
        &["drums"],
        &["clean-guitar", "pad", "organ", "bass"],
        &[],
    ];
    let mut rows = Rows::create(out)?;
    each_song(count, seed, without, |song, whole, rng| {
        for buses in TAKES {
            let mut mix = whole.clone();
            if buses.is_empty() {
                compress(&mut mix, rng);
            } else if !keep(&mut mix, buses) {
                continue;
            }
            rows.unlimited([song.name, song.kit], &mix, rng)?;
        }
        Ok(())
    })?;
    rows.finish()
}

/// Rows of all records under a folder, each without the ceiling that it may have had, as it is and
/// through a handful of processors at drives drawn too.
pub fn records(out: &str, folder: &str, seed: u64) -> Done {
    let mut rows = Rows::create(out)?;
    for (index, path) in records::files(folder.as_ref())?.iter().enumerate() {
        let mut rng = Pcg64Mcg::seed_from_u64(seed * 1_000_003 + index as u64);
        let Some(record) = records::passage(path)? else { continue };
        let audio = records::lifted(&record, &mut rng);
        let mix = Mix { audio, buses: std::collections::BTreeMap::new(), truth: Vec::new() };
        let name = format!("record-{index}");
        // The package, by the folder that it was unpacked into.
        let below = path.strip_prefix(folder)?.components().next();
        let package = below.map_or("record".into(), |c| c.as_os_str().to_string_lossy());
        let of = [name.as_str(), &package];
        rows.driven(of, &mix, 7, &mut rng)?;
        eprintln!("{}", path.display());
    }
    rows.finish()
}

/// A drawn processor and its name; of the whole alone unless the drum bus `has_drums`.
fn processor(rng: &mut Pcg64Mcg, has_drums: bool) -> (&'static str, Processor) {
    loop {
        let drawn = process::draw(rng);
        if has_drums || !drawn.1.on_drums() {
            return drawn;
        }
    }
}

/// The number of each of `count` songs, the seed that it is drawn with, and its random numbers.
fn seeds(count: u64, seed: u64) -> impl Iterator<Item = (u64, u64, Pcg64Mcg)> {
    (0..count).map(move |index| {
        let seed = seed * 1_000_003 + index;
        (index, seed, Pcg64Mcg::seed_from_u64(seed))
    })
}

/// Draws `count` songs, each with numbers of its own, and hands on their mixes.
fn each_song(
    count: u64,
    seed: u64,
    without: &str,
    mut work: impl FnMut(&Song, Mix, &mut Pcg64Mcg) -> Done,
) -> Done {
    let (from, kits) = left(without);
    let mut library = mix::Library::default();
    for (index, seed, mut rng) in seeds(count, seed) {
        let song = shuffle::draw_wide(&from, &kits, 24.0, seed);
        match mix::render(&song, 48_000, &mut library) {
            Ok(mix) => work(&song, mix, &mut rng)?,
            Err(error) => eprintln!("{}: {error}", song.name),
        }
        eprintln!("{index}/{count} {}", song.kit);
    }
    Ok(())
}

/// Rows of the written songs through every processor at fixed drives.
pub fn written(out: &str, names: &str) -> Done {
    let names: Vec<&str> = names.split(',').collect();
    let mut rows = Rows::create(out)?;
    let mut library = mix::Library::default();
    let mut rng = Pcg64Mcg::seed_from_u64(7);
    for song in songs::ALL.iter().filter(|song| names == ["-"] || names.contains(&song.name)) {
        let mix = mix::render(song, 48_000, &mut library)?;
        for &(name, processor) in process::ALL {
            for drive in DRIVES {
                let processed = process::run(processor, &mix, drive)?;
                rows.take([song.name, song.kit], name, drive, &processed, &mut rng)?;
            }
        }
        eprintln!("{}", song.name);
    }
    rows.finish()
}

/// Songs and kits that are left without the songs of those names.
fn left(without: &str) -> (Vec<Song>, Vec<&'static str>) {
    let without: Vec<&str> = without.split(',').collect();
    let (left_out, songs): (Vec<Song>, Vec<Song>) =
        songs::ALL.iter().partition(|song| without.contains(&song.name));
    let kits = corpus::kits::NAMES
        .into_iter()
        .filter(|kit| left_out.iter().all(|song| song.kit != *kit))
        .collect();
    (songs, kits)
}

/// A compressor with a slow attack, settings drawn: it lowers hits and is no limiter.
fn compress(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    mix.audio = hands::compressor(rng).run(&mix.audio);
}

/// Two shelves and a bell over all buses, settings drawn: other hands, other tone.
fn tone(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    let gains: [f64; 3] = std::array::from_fn(|_| rng.random_range(-5.0..5.0));
    let hz = 200.0 * 10f64.powf(rng.random::<f64>());
    let shape = |audio: &Stereo| {
        let audio = equal::low_shelf(audio, 90.0, gains[0]);
        equal::high_shelf(&equal::bell(&audio, hz, 0.7, gains[1]), 7_000.0, gains[2])
    };
    mix.audio = shape(&mix.audio);
    mix.buses.values_mut().for_each(|bus| *bus = shape(bus));
}

/// A compressor on the drum bus alone.
fn compress_drums(mix: &mut Mix, rng: &mut Pcg64Mcg) {
    let Some(drums) = mix.buses.get_mut("drums") else { return };
    let pressed = hands::compressor(rng).run(drums);
    mix.audio.add(drums, 0, -1.0, -1.0);
    mix.audio.add(&pressed, 0, 1.0, 1.0);
    *drums = pressed;
}

/// Now and then a bus or two alone: material that looks limited and is not, or a limited part.
/// Gives whether the mix is no longer whole.
fn only_some_buses(mix: &mut Mix, rng: &mut Pcg64Mcg) -> bool {
    let buses: &[&str] = match rng.random_range(0..20) {
        0..3 => &["drums"],
        3 => &["guitar-left", "guitar-right"],
        4 => &["bass"],
        5 => &["bass", "guitar-left", "guitar-right"],
        _ => return false,
    };
    keep(mix, buses)
}

/// Leaves only those buses in the mix; gives whether anything sounds then.
fn keep(mix: &mut Mix, buses: &[&str]) -> bool {
    let mut found = buses.iter().filter_map(|bus| mix.buses.get(bus));
    let Some(mut audio) = found.next().cloned() else { return false };
    for bus in found {
        audio.add(bus, 0, 1.0, 1.0);
    }
    let sounds = audio.peak() > 0.0;
    if sounds {
        mix.audio = audio;
    }
    sounds
}

struct Rows {
    out: BufWriter<File>,
    /// Number of the file within the run.
    file: u64,
}

/// Counts hits.
#[derive(Default)]
struct Hits(usize);

impl Sink for Hits {
    fn hit(&mut self, _: &Hit) {
        self.0 += 1;
    }
}

impl Rows {
    fn create(out: &str) -> Result<Self, Box<dyn Error>> {
        let mut out = BufWriter::new(File::create(out)?);
        write!(out, "file,song,kit,processor,drive_db,after,reduction_db,lost_db")?;
        for name in TRACE_NAMES {
            write!(out, ",{name}")?;
        }
        writeln!(out)?;
        Ok(Self { out, file: 0 })
    }

    fn finish(mut self) -> Done {
        self.out.flush()?;
        Ok(())
    }

    /// The mix as it is, and a fader away.
    fn unlimited(&mut self, of: [&str; 2], mix: &Mix, rng: &mut Pcg64Mcg) -> Done {
        let processed =
            Processed { before: mix.audio.clone(), after: mix.audio.clone(), ceiling: 1.0 };
        self.take(of, "none", 0.0, &processed, rng)
    }

    /// The mix as it is, and so many `times` through a processor at a drive over what it has.
    fn driven(&mut self, of: [&str; 2], mix: &Mix, times: usize, rng: &mut Pcg64Mcg) -> Done {
        self.unlimited(of, mix, rng)?;
        for _ in 0..times {
            let (name, processor) = processor(rng, false);
            let drive = rng.random_range(0.5..13.0);
            let processed = process::run(processor, mix, drive)?;
            self.take(of, name, drive, &processed, rng)?;
        }
        Ok(())
    }

    /// One file, by the names of song and kit: measured behind an after-processing that is drawn.
    fn take(
        &mut self,
        [song, kit]: [&str; 2],
        processor: &str,
        drive: f64,
        processed: &Processed,
        rng: &mut Pcg64Mcg,
    ) -> Done {
        let after = match rng.random_range(0..10) {
            0 => Some(After::Mp3),
            1 => Some(After::Aac),
            2 => Some(After::OtherRate),
            3 => Some(After::Bits16),
            4 | 5 => Some(After::Fader(rng.random_range(-12.0..3.0))),
            _ => None,
        };
        let heard = match after {
            Some(after) => after.run(&processed.after)?,
            None => processed.after.clone(),
        };
        self.file += 1;
        let name = after.map_or("plain".to_owned(), After::name);
        let hits = measure(&heard)?;
        let at: Vec<_> = hits.iter().map(|hit| (hit[0], Vec::new())).collect();
        for (hit, truth) in hits.iter().zip(ceiling::at(processed, &at).hits) {
            write!(
                self.out,
                "{},{song},{kit},{processor},{drive:.3},{name},{:.3},{:.3}",
                self.file, truth.reduction_db, truth.lost_db,
            )?;
            for value in hit {
                write!(self.out, ",{}", Short(*value))?;
            }
            writeln!(self.out)?;
        }
        Ok(())
    }
}

/// A number with five significant digits and no more.
struct Short(f64);

impl std::fmt::Display for Short {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let decimals = (4 - self.0.abs().max(1e-4).log10().floor() as i32).clamp(0, 8) as usize;
        write!(f, "{:.decimals$}", self.0)
    }
}

/// The traces of all hits.
fn measure(audio: &Stereo) -> Result<Vec<Trace>, Box<dyn Error>> {
    let config = Config { sample_rate_hz: f64::from(audio.rate), channels: 2 };
    let mut meter = Meter::new(config)?;
    let mut hits = Hits::default();
    let mut traces = Vec::new();
    // Less than the spacing of two hits, so that none is missed.
    let block = audio.rate as usize / 200;
    let [left, right] = audio.channels();
    for (left, right) in left.chunks(block).zip(right.chunks(block)) {
        meter.process(&[left, right], None, &mut hits);
        if hits.0 > traces.len() {
            traces.extend(meter.ceiling_trace());
        }
    }
    Ok(traces)
}

//! Processors of known effect: limiters and clippers, our own and independent ones, and what
//! happens to a master afterwards.
//!
//! A processor gets the mix with the drive already applied (so its make-up gain is included) and
//! a ceiling. Drive 0 dB puts the ceiling at the mix's own true peak. What it took is measured
//! by comparing both sides, never taken from its settings.

pub mod after;
pub mod clip;
pub mod compress;
pub mod equal;
pub mod external;
pub mod limit;
pub mod makes;
mod settings;

use super::audio::db;
use super::truth::true_peak;
use super::{CorpusError, Mix, Stereo};
use rand::Rng;

/// A limiter or clipper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Processor {
    /// Our look-ahead limiter.
    Limiter(limit::Limiter),
    /// Two of them in a row: a slow one 2 dB lighter, then a fast one.
    TwoStage,
    /// Hard clipper.
    HardClip,
    /// Soft clipper with the tanh curve.
    TanhClip,
    /// Soft clipper with the cubic curve.
    CubicClip,
    /// Hard clipper for half of the drive, then a limiter.
    ClipThenLimit,
    /// Limiter on the drum bus only.
    DrumBus(limit::Limiter),
    /// Hard clipper on the drum bus only.
    DrumBusClip,
    /// A limiter or clipper of another make.
    Make(makes::Make),
    /// ffmpeg `alimiter`: attack and release, ms.
    Alimiter {
        /// Attack, ms; also its look-ahead.
        attack_ms: f64,
        /// Release, ms.
        release_ms: f64,
        /// Its program-dependent release.
        asc: bool,
    },
    /// A compressor without look-ahead, nearly a limiter: its threshold lies at the ceiling, and
    /// what comes faster than its attack goes through.
    Peaks(compress::Compressor),
    /// sox `compand` set up as a limiter: attack and decay, s.
    SoxCompand {
        /// Attack, s; also its look-ahead.
        attack_s: f64,
        /// Decay, s.
        decay_s: f64,
    },
}

impl Processor {
    /// Whether it works on the drum bus alone.
    #[must_use]
    pub fn on_drums(self) -> bool {
        matches!(self, Self::DrumBus(_) | Self::DrumBusClip)
    }
}

/// Every processor, with a name for tables.
pub const ALL: &[(&str, Processor)] = &[
    ("limit-fast", Processor::Limiter(limit::FAST)),
    ("limit-slow", Processor::Limiter(limit::SLOW)),
    ("limit-program", Processor::Limiter(limit::PROGRAM)),
    ("two-stage", Processor::TwoStage),
    ("hard-clip", Processor::HardClip),
    ("tanh-clip", Processor::TanhClip),
    ("cubic-clip", Processor::CubicClip),
    ("clip-then-limit", Processor::ClipThenLimit),
    ("drum-bus", Processor::DrumBus(limit::FAST)),
    ("alimiter-5-50", Processor::Alimiter { attack_ms: 5.0, release_ms: 50.0, asc: false }),
    ("alimiter-1-20", Processor::Alimiter { attack_ms: 1.0, release_ms: 20.0, asc: false }),
    ("alimiter-7-100", Processor::Alimiter { attack_ms: 7.0, release_ms: 100.0, asc: false }),
    ("alimiter-5-300", Processor::Alimiter { attack_ms: 5.0, release_ms: 300.0, asc: false }),
    ("alimiter-5-50-asc", Processor::Alimiter { attack_ms: 5.0, release_ms: 50.0, asc: true }),
    ("sox-compand", Processor::SoxCompand { attack_s: 0.001, decay_s: 0.08 }),
];

/// The processor of that name.
#[must_use]
pub fn by_name(name: &str) -> Option<Processor> {
    ALL.iter().find(|(n, _)| *n == name).map(|(_, p)| *p)
}

/// A processor of our own with settings drawn at random, and its name for tables: what the fit
/// learns from. The separate programs are left to the tests, as processors that no fit has seen.
pub fn draw(rng: &mut impl Rng) -> (&'static str, Processor) {
    let limiter = settings::limiter(rng);
    let mut between = |from, to| settings::between(rng, from, to);
    let peaks = compress::Compressor {
        below_peak_db: 0.0,
        ratio: between(8.0, 40.0),
        attack_ms: between(0.05, 1.5),
        release_ms: between(20.0, 400.0),
    };
    match rng.random_range(0..32) {
        20.. => {
            let (name, make) = makes::draw(rng);
            (name, Processor::Make(make))
        }
        0..10 => ("limiter", Processor::Limiter(limiter)),
        10 => ("two-stage", Processor::TwoStage),
        11 | 12 => ("hard-clip", Processor::HardClip),
        13 => ("tanh-clip", Processor::TanhClip),
        14 => ("cubic-clip", Processor::CubicClip),
        15 | 16 => ("clip-then-limit", Processor::ClipThenLimit),
        17 => ("drum-bus", Processor::DrumBus(limit::FAST)),
        _ => ("peaks", Processor::Peaks(peaks)),
    }
}

/// The same on the drum bus alone: three limiters to a clipper.
pub fn draw_on_drums(rng: &mut impl Rng) -> (&'static str, Processor) {
    match rng.random_range(0..4) {
        0 => ("drum-bus-clip", Processor::DrumBusClip),
        _ => ("drum-bus", Processor::DrumBus(settings::limiter(rng))),
    }
}

/// Both sides of a processor.
#[derive(Clone, Debug)]
pub struct Processed {
    /// The mix ahead of it, drive included: make-up gain and all.
    pub before: Stereo,
    /// The mix behind it.
    pub after: Stereo,
    /// The ceiling, linear.
    pub ceiling: f32,
}

/// Drives a mix into a processor.
///
/// # Errors
/// [`CorpusError::Program`] when a separate program fails.
pub fn run(processor: Processor, mix: &Mix, drive_db: f64) -> Result<Processed, CorpusError> {
    if !processor.on_drums() {
        return drive(processor, mix.audio.clone(), drive_db);
    }
    let mut both = run_on_drums(processor, mix, drive_db)?;
    // The other buses are turned up by the same make-up gain, so that the balance stays.
    let mut rest = without_drums(mix)?;
    rest.gain(db(drive_db));
    both.before.add(&rest, 0, 1.0, 1.0);
    both.after.add(&rest, 0, 1.0, 1.0);
    Ok(both)
}

/// Drives the drum bus of a mix into a processor, without the rest of the mix.
///
/// # Errors
/// As for [`run`]; [`CorpusError::Recipe`] without a drum bus.
pub fn run_on_drums(
    processor: Processor,
    mix: &Mix,
    drive_db: f64,
) -> Result<Processed, CorpusError> {
    drive(processor, drums(mix)?.clone(), drive_db)
}

/// A mix less its drum bus.
///
/// # Errors
/// [`CorpusError::Recipe`] without a drum bus.
pub fn without_drums(mix: &Mix) -> Result<Stereo, CorpusError> {
    let mut rest = mix.audio.clone();
    rest.add(drums(mix)?, 0, -1.0, -1.0);
    Ok(rest)
}

fn drums(mix: &Mix) -> Result<&Stereo, CorpusError> {
    let none = "the drum bus is to be limited and there is none";
    mix.buses.get("drums").ok_or_else(|| CorpusError::Recipe(none.to_owned()))
}

fn drive(processor: Processor, bus: Stereo, drive_db: f64) -> Result<Processed, CorpusError> {
    let ceiling = true_peak(&bus, 0, bus.len());
    let mut before = bus;
    before.gain(db(drive_db));
    let after = through(processor, &before, ceiling, drive_db)?;
    Ok(Processed { before, after, ceiling })
}

fn through(
    processor: Processor,
    driven: &Stereo,
    ceiling: f32,
    drive_db: f64,
) -> Result<Stereo, CorpusError> {
    Ok(match processor {
        Processor::Limiter(limiter) | Processor::DrumBus(limiter) => limiter.run(driven, ceiling),
        Processor::TwoStage => {
            let first = limit::SLOW.run(driven, ceiling * db(2.0));
            limit::FAST.run(&first, ceiling)
        }
        Processor::HardClip | Processor::DrumBusClip => clip::hard(driven, ceiling),
        Processor::Make(make) => make.run(driven, ceiling),
        Processor::TanhClip => clip::tanh(driven, ceiling),
        Processor::CubicClip => clip::cubic(driven, ceiling),
        Processor::ClipThenLimit => {
            limit::FAST.run(&clip::hard(driven, ceiling * db(drive_db / 2.0)), ceiling)
        }
        Processor::Peaks(compressor) => {
            let over = f64::from(driven.peak() / ceiling).log10() * 20.0;
            compress::Compressor { below_peak_db: over.max(0.0), ..compressor }.run(driven)
        }
        Processor::Alimiter { attack_ms, release_ms, asc } => {
            external::alimiter(driven, ceiling, attack_ms, release_ms, asc)?
        }
        Processor::SoxCompand { attack_s, decay_s } => {
            external::sox_compand(driven, ceiling, attack_s, decay_s)?
        }
    })
}

//! Costs that are read against what was really lost, on songs of more than one kind.
//!
//! Each song is rendered tight and locked, and again with one cause put in. *Really lost* is the
//! contrast of the hits of the undamaged mix less what the same hits have in the damaged one, the median
//! over hits; a hit that is gone has nothing left.

use crate::arrange::clutter;
use crate::corpus::measure::measure;
use crate::corpus::mix::Library;
use crate::corpus::{CorpusError, Stereo};
use crate::second;
use crate::session::{Layer, render};
use crate::take::{Part, Take, Variant};
use brunt_engine::parts::buried::Strokes;
use brunt_engine::parts::cost::Arrangement;
use brunt_engine::parts::levels::Stretch;
use brunt_engine::parts::remix::{self, Planes, Remix};
use brunt_engine::parts::{PartCell, PartRole, PartTrack, PartsReading, Session, sum};
use brunt_engine::{Config, ConfigError, Thresholds};
use std::convert::Infallible;
use std::sync::Arc;

/// A kind of songs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Generator {
    /// [`crate::session`] and [`crate::arrange`].
    First,
    /// [`crate::second`].
    Second,
}

impl Generator {
    /// Both.
    pub const ALL: [Self; 2] = [Self::First, Self::Second];

    /// A song of a seed, as a variant has it.
    ///
    /// # Errors
    /// [`CorpusError`] when a package is missing.
    pub fn take(
        self,
        seed: u64,
        variant: Variant,
        library: &mut Library,
    ) -> Result<Take, CorpusError> {
        match self {
            Self::First => first(seed, variant, library),
            Self::Second => second::take(seed, variant, library),
        }
    }
}

fn first(seed: u64, variant: Variant, library: &mut Library) -> Result<Take, CorpusError> {
    let mut plan = match variant {
        Variant::Scattered => clutter::scattered_band(seed),
        _ => clutter::clean(seed),
    };
    for layer in &mut plan.layers {
        let strays = layer.role != PartRole::Drums;
        match variant {
            Variant::Late(ms) if strays => layer.feel.offset_ms = ms,
            Variant::Jitter(ms) if strays => layer.feel.spread_ms = ms,
            Variant::Gain(db) if layer.amp_db.is_some() => layer.amp_db = Some(db),
            _ => {}
        }
    }
    if let Variant::Layer(db) = variant {
        let pad = Layer::pad("layer", [48, 50, 89, 95][seed as usize % 4], "C---------------");
        plan.layers.push(Layer { level_lufs: -19.5 + db, ..pad });
    }
    let session = render(&plan, 48_000, library)?;
    let mix = session.mix();
    let parts = session.stems.into_iter();
    let part = |stem: crate::session::Stem| Part {
        name: stem.name,
        role: stem.role,
        audio: stem.audio,
        fader: 1.0,
    };
    Ok(Take { mix, parts: parts.map(part).collect() })
}

/// What is read of a take.
#[derive(Clone, Debug)]
pub struct Read {
    /// Costs measured again on the stems.
    pub measured: PartsReading,
    /// The same as they are estimated live, from powers.
    pub estimated: PartsReading,
    /// Time, s, and contrast, dB, of every hit, the drums' buried ones among them.
    pub hits: Vec<(f64, f64)>,
    /// How many are buried.
    pub buried: usize,
}

/// Reads a take as the file check does.
///
/// # Errors
/// [`ConfigError`] when the rate is out of the engine's range.
pub fn read(take: &Take) -> Result<Read, ConfigError> {
    let rate_hz = f64::from(take.mix.rate);
    let config = Config { sample_rate_hz: rate_hz, channels: 2 };
    let tracks = take
        .parts
        .iter()
        .map(|part| PartTrack::measure(part.role, part.name, config, &part.audio.channels()))
        .collect::<Result<Vec<_>, _>>()?;
    let limits = Thresholds::default();
    let session = Session { tracks };
    // Live, parts are heard ahead of their faders, and the mix says how loud they are.
    let mut at_levels = session.clone();
    at_levels.bring_to_levels_of(&stretches(&take.mix, config)?);
    let hits = measure(&take.mix)?.hits;
    let frames: Vec<u64> = hits.iter().map(|hit| hit.frame).collect();
    let places: Vec<i64> = frames.iter().map(|frame| *frame as i64).collect();
    let estimated = at_levels.read_at(&limits, &places);
    let strokes = Strokes::new(&frames, &Arrangement::new(&session.tracks), rate_hz);
    let planes = |audio: &Stereo| -> Planes { vec![audio.left.clone(), audio.right.clone()] };
    let mix = planes(&take.mix);
    let cell_frames = session.tracks[0].cell_frames;
    let missed = strokes.missed(&remix::weighted_cells(&mix, rate_hz, cell_frames), cell_frames);
    let counted = (&strokes.frames[..], strokes.counted.clone());
    let mut remix = Remix::new(rate_hz, cell_frames, &mix, counted);
    let mut load = |part: usize| Ok::<_, Infallible>(Arc::new(planes(&take.parts[part].audio)));
    let mut measured = estimated.clone();
    let found = remix.find_faders(take.parts.len(), &mut load);
    let Ok(_) =
        found.and_then(|()| remix::measure(&session, &mut measured, &limits, &remix, &mut load));
    let mut all: Vec<(f64, f64)> = hits.iter().map(|hit| (hit.time_s, hit.contrast_db)).collect();
    all.extend(missed.iter().map(|m| (m.frame as f64 / rate_hz, m.contrast_db)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let buried = missed.iter().filter(|missed| missed.is_buried()).count();
    Ok(Read { measured, estimated, hits: all, buried })
}

/// The mix's power in stretches of 100 ms, as an instance on the mix bus tells it.
fn stretches(mix: &Stereo, config: Config) -> Result<Vec<Stretch>, ConfigError> {
    let track = PartTrack::measure(PartRole::Other, "", config, &mix.channels())?;
    let stretch = |(n, cells): (usize, &[PartCell])| Stretch {
        start_frame: (n * CELLS * track.cell_frames) as i64,
        frames: (cells.len() * track.cell_frames) as u32,
        bands: std::array::from_fn(|band| {
            cells.iter().map(|cell| cell.bands[band]).sum::<f32>() / cells.len() as f32
        }),
    };
    Ok(track.cells.chunks(CELLS).enumerate().map(stretch).collect())
}

/// Cells of a stretch.
const CELLS: usize = 100;

/// What the hits of the undamaged mix really lost in the damaged one, dB, median over hits.
#[must_use]
pub fn really_lost_db(undamaged: &Read, damaged: &Read) -> f64 {
    let lost: Vec<f64> = undamaged
        .hits
        .iter()
        .map(|&(time_s, contrast_db)| {
            let near = damaged.hits.iter().find(|(other_s, _)| (other_s - time_s).abs() < 0.030);
            contrast_db - near.map_or(0.0, |hit| hit.1)
        })
        .collect();
    sum::median(&lost).unwrap_or(f64::NAN)
}

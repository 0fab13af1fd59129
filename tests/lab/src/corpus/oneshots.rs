//! A row of single hits, one a second: the case in which the onset is beyond doubt.

use super::audio::db;
use super::mix::{Clip, Library};
use super::player::Instrument;
use super::truth::Truth;
use super::{CorpusError, Stereo, kits};

/// A row of hits with its truth.
#[derive(Clone, Debug)]
pub struct Row {
    /// One hit a second, the onset 0.1 s after each full second.
    pub audio: Stereo,
    /// The hits.
    pub truth: Vec<Truth>,
}

/// Length of a hit before its fade ends, s: the next one starts in silence.
const LENGTH_S: f64 = 0.8;
/// Length of the fade, s.
const FADE_S: f64 = 0.2;

/// Every piece of a kit, hard (velocity 1.0) and soft (0.5).
///
/// # Errors
/// [`CorpusError`] when the kit is unknown or its package is missing.
pub fn row(kit: &str, rate: u32, library: &mut Library) -> Result<Row, CorpusError> {
    let kit = kits::kit(kit).ok_or_else(|| CorpusError::Recipe(format!("no kit {kit}")))?;
    let second = rate as usize;
    let hits = kit.pieces.len() * 2;
    let mut audio = Stereo::silence(rate, hits * second);
    let mut truth = Vec::new();
    for (n, (drum, velocity)) in
        kit.pieces.iter().flat_map(|(d, _)| [(*d, 1.0), (*d, 0.5)]).enumerate()
    {
        let clip = faded(&*library.drum(&kit, drum, velocity, rate)?);
        let frame = n * second + second / 10;
        let gain = db(drum.level_db() - 3.0 + 20.0 * f64::log10(velocity));
        audio.add(&clip.audio, frame as i64 - clip.onset as i64, gain, gain);
        let at = |onset: usize| (frame + onset - clip.onset) as f64 / f64::from(rate);
        truth.push(Truth {
            instrument: Instrument::Drum(drum),
            time_s: at(clip.onset),
            time_20_s: at(clip.onset_20),
            time_10_s: at(clip.onset_10),
            velocity,
            peak_dbfs: Some(super::audio::to_db(clip.audio.peak() * gain)),
            rise_db: None,
        });
    }
    Ok(Row { audio, truth })
}

fn faded(clip: &Clip) -> Clip {
    let mut clip = clip.clone();
    let rate = f64::from(clip.audio.rate);
    let frames = (clip.onset + (LENGTH_S * rate) as usize).min(clip.audio.len());
    clip.audio.left.truncate(frames);
    clip.audio.right.truncate(frames);
    let fade = frames.min((FADE_S * rate) as usize);
    for i in 0..fade {
        let ramp = i as f32 / fade as f32;
        clip.audio.left[frames - 1 - i] *= ramp;
        clip.audio.right[frames - 1 - i] *= ramp;
    }
    clip
}

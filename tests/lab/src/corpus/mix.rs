//! Renders a song: every event as its own clip, buses, mix, and the truth about it.

use super::audio::db;
pub use super::clip::Clip;
use super::drums::{Drum, Kit, Source};
use super::notes::{Font, Fonts, Note};
use super::player::{Event, Instrument, play};
use super::synth;
use super::tone::Tone;
use super::truth::{self, Truth};
use super::{CorpusError, Song, Stereo, amp, decode, kits, onset, resample};
use std::collections::BTreeMap;
use std::rc::Rc;

/// A rendered song.
#[derive(Clone, Debug)]
pub struct Mix {
    /// The mix; its largest sample is at -1 dBFS.
    pub audio: Stereo,
    /// The buses at the level that they have in the mix, by name.
    pub buses: BTreeMap<&'static str, Stereo>,
    /// All events, in order of time.
    pub truth: Vec<Truth>,
}

impl Mix {
    /// The first `seconds`, for checks that need no whole song.
    #[must_use]
    pub fn first(&self, seconds: f64) -> Self {
        let cut = |audio: &Stereo| {
            let frames = ((seconds * f64::from(audio.rate)) as usize).min(audio.len());
            Stereo {
                rate: audio.rate,
                left: audio.left[..frames].to_vec(),
                right: audio.right[..frames].to_vec(),
            }
        };
        Self {
            audio: cut(&self.audio),
            buses: self.buses.iter().map(|(name, bus)| (*name, cut(bus))).collect(),
            truth: self.truth.iter().filter(|t| t.time_s < seconds).cloned().collect(),
        }
    }

    /// Events of the kit only.
    #[must_use]
    pub fn drum_truth(&self) -> Vec<Truth> {
        let is_drum = |t: &&Truth| matches!(t.instrument, Instrument::Drum(_));
        self.truth.iter().filter(is_drum).cloned().collect()
    }
}

/// Audio kept before a clip's onset, s: slow starts and stick noise stay, leading silence goes.
const BEFORE_ONSET_S: f64 = 0.003;

impl Clip {
    /// Cuts leading silence off and finds the onset.
    #[must_use]
    pub fn new(mut audio: Stereo) -> Option<Self> {
        let rate = f64::from(audio.rate);
        let start = onset::frame(&audio)?.saturating_sub((BEFORE_ONSET_S * rate) as usize);
        audio.left.drain(..start);
        audio.right.drain(..start);
        let fade = ((0.001 * rate) as usize).min(onset::frame(&audio)?);
        for i in 0..fade {
            let ramp = i as f32 / fade as f32;
            audio.left[i] *= ramp;
            audio.right[i] *= ramp;
        }
        let [_, _, at_30, at_20, at_10, _] =
            onset::definitions(&audio)?.0.map(|ms| (ms * 1e-3 * rate).round() as usize);
        let mono = audio.left == audio.right;
        Some(Self { onset: at_30, onset_20: at_20, onset_10: at_10, mono, audio })
    }
}

/// Renders clips and keeps them.
#[derive(Debug, Default)]
pub struct Library {
    fonts: Fonts,
    drums: BTreeMap<(String, Drum, usize, u32), Rc<Clip>>,
    notes: BTreeMap<(Note, u32), Rc<Clip>>,
}

impl Library {
    /// The clip of a drum at a velocity (0 to 1), its peak at 0 dBFS.
    ///
    /// # Errors
    /// [`CorpusError`] when the sound is missing.
    pub fn drum(
        &mut self,
        kit: &Kit,
        drum: Drum,
        velocity: f64,
        rate: u32,
    ) -> Result<Rc<Clip>, CorpusError> {
        let source = kit
            .source(drum)
            .ok_or_else(|| CorpusError::Recipe(format!("kit {}: no {}", kit.name, drum.name())))?;
        let layers = match source {
            Source::Files(_, files) => files.len(),
            Source::Font { .. } => 12,
            Source::Synth { .. } => 6,
        };
        let layer = ((velocity * layers as f64).ceil() as usize).clamp(1, layers) - 1;
        let name = match source {
            Source::Synth { seed } => format!("{}{seed}", synth::PREFIX),
            _ => kit.name.to_owned(),
        };
        let key = (name, drum, layer, rate);
        if let Some(clip) = self.drums.get(&key) {
            return Ok(Rc::clone(clip));
        }
        let mut audio = match *source {
            Source::Files(package, files) => {
                resample::stereo(&decode::decode(&package.file(files[layer])?)?, rate)
            }
            Source::Font { font, bank, preset, key } => {
                let velocity = (127.0 * (layer + 1) as f64 / layers as f64) as i32;
                let held = 2 * rate as usize;
                self.fonts
                    .render(Note { font, bank, preset, key, velocity, held, tail: 0 }, rate)?
            }
            Source::Synth { seed } => {
                synth::strike(seed, drum, (layer + 1) as f64 / layers as f64, rate)
            }
        };
        let peak = audio.peak();
        if peak > 0.0 {
            audio.gain(1.0 / peak);
        }
        let clip = Rc::new(Clip::new(audio).ok_or_else(|| {
            CorpusError::Recipe(format!("kit {}: {} is silent", kit.name, drum.name()))
        })?);
        self.drums.insert(key, Rc::clone(&clip));
        Ok(clip)
    }

    /// The clip of a note.
    ///
    /// # Errors
    /// [`CorpusError`] when the font is missing or plays nothing.
    pub fn note(&mut self, note: Note, rate: u32) -> Result<Rc<Clip>, CorpusError> {
        if let Some(clip) = self.notes.get(&(note, rate)) {
            return Ok(Rc::clone(clip));
        }
        let audio = self.fonts.render(note, rate)?;
        let clip = Rc::new(
            Clip::new(audio)
                .ok_or_else(|| CorpusError::Recipe(format!("{note:?} plays nothing")))?,
        );
        self.notes.insert((note, rate), Rc::clone(&clip));
        Ok(clip)
    }
}

/// Renders a song at `rate`.
///
/// # Errors
/// [`CorpusError`] when a package is missing or the recipe asks for what its kit lacks.
pub fn render(song: &Song, rate: u32, library: &mut Library) -> Result<Mix, CorpusError> {
    let (events, frames) = play(song, rate);
    let kit = kits::kit(song.kit)
        .ok_or_else(|| CorpusError::Recipe(format!("{}: no kit {}", song.name, song.kit)))?;
    let mut buses: BTreeMap<&'static str, Stereo> = BTreeMap::new();
    let mut placed = Vec::new();
    for (i, event) in events.iter().enumerate() {
        let bus = buses
            .entry(bus_name(event.instrument))
            .or_insert_with(|| Stereo::silence(rate, frames));
        if let Instrument::Drum(drum) = event.instrument {
            let clip = library.drum(&kit, drum, event.velocity, rate)?;
            let gain = db(drum.level_db() + 40.0 * event.velocity.log10());
            let (left, right) = pan(if clip.mono { drum.pan() } else { 0.0 });
            let start = event.frame as i64 - clip.onset as i64;
            let clip = choked(clip, drum, event, &events[i + 1..]);
            bus.add(&clip.audio, start, gain * left, gain * right);
            placed.push((i, clip, gain));
        } else {
            let mut first = None;
            for &key in &event.keys {
                let clip = library.note(note(song, event, key, rate), rate)?;
                bus.add(&clip.audio, event.frame as i64 - clip.onset as i64, 1.0, 1.0);
                first.get_or_insert(clip);
            }
            if let Some(clip) = first {
                placed.push((i, clip, 1.0));
            }
        }
    }
    distort(song, &mut buses, rate);
    let gains = balance(song, &mut buses);
    let tone = Tone::of(&sum(&buses, rate, frames));
    // Filters are linear: each bus through the shelves, so that the buses still add to the mix.
    buses.values_mut().for_each(|bus| *bus = tone.apply(bus));
    let mut audio = sum(&buses, rate, frames);
    let scale = db(-1.0) / audio.peak().max(1e-9);
    audio.gain(scale);
    buses.values_mut().for_each(|b| b.gain(scale));
    let weighted = truth::k_weighted(&audio);
    let truth = placed
        .iter()
        .map(|(i, clip, gain)| {
            let event = &events[*i];
            let bus = gains.get(bus_name(event.instrument)).copied().unwrap_or(1.0);
            truth::of_event(event, clip, gain * bus * scale, tone, &weighted)
        })
        .collect();
    Ok(Mix { audio, buses, truth })
}

fn sum(buses: &BTreeMap<&'static str, Stereo>, rate: u32, frames: usize) -> Stereo {
    let mut audio = Stereo::silence(rate, frames);
    buses.values().for_each(|bus| audio.add(bus, 0, 1.0, 1.0));
    audio
}

fn bus_name(instrument: Instrument) -> &'static str {
    match instrument {
        Instrument::Drum(_) => "drums",
        other => other.name(),
    }
}

/// An open hat ends when the hat is next played.
fn choked(clip: Rc<Clip>, drum: Drum, event: &Event, later: &[Event]) -> Rc<Clip> {
    if drum != Drum::HatOpen {
        return clip;
    }
    let hats = [Drum::HatClosed, Drum::HatOpen, Drum::HatPedal].map(Instrument::Drum);
    let Some(next) = later.iter().find(|e| hats.contains(&e.instrument)) else { return clip };
    let end = clip.onset + next.frame - event.frame;
    let fade = clip.audio.rate as usize / 200;
    if end >= clip.audio.len() || end < fade {
        return clip;
    }
    let mut cut = Clip::clone(&clip);
    cut.audio.left.truncate(end);
    cut.audio.right.truncate(end);
    for i in 0..fade {
        let ramp = i as f32 / fade as f32;
        cut.audio.left[end - 1 - i] *= ramp;
        cut.audio.right[end - 1 - i] *= ramp;
    }
    Rc::new(cut)
}

/// Constant-power gains of left and right for a place from -1 to +1; 1 and 1 in the middle.
fn pan(place: f64) -> (f32, f32) {
    let angle = (place + 1.0) * std::f64::consts::FRAC_PI_4;
    let root = std::f64::consts::SQRT_2;
    ((root * angle.cos()) as f32, (root * angle.sin()) as f32)
}

fn note(song: &Song, event: &Event, key: i32, rate: u32) -> Note {
    let preset = match event.instrument {
        Instrument::Bass => song.bass,
        Instrument::GuitarLeft | Instrument::GuitarRight if event.muted => 28,
        // The two guitars are two instruments, as in a double-tracked recording.
        Instrument::GuitarLeft => 27,
        Instrument::GuitarRight => 26,
        Instrument::Clean => 27,
        Instrument::Pad => song.pad,
        Instrument::Organ => 16,
        Instrument::Drum(_) => 0,
    };
    // Velocities in steps of 8 and lengths in steps of 10 ms, so that clips are shared.
    let velocity = (((event.velocity * 127.0) as i32 + 4) / 8 * 8).clamp(8, 127);
    let unit = rate as usize / 100;
    let held = (event.held / unit).max(1) * unit;
    let tail = if event.instrument == Instrument::Pad { rate as usize } else { rate as usize / 4 };
    Note { font: Font::FluidGm, bank: 0, preset, key, velocity, held, tail }
}

/// Sends the saturated guitars through their amplifiers, hard left and hard right.
fn distort(song: &Song, buses: &mut BTreeMap<&'static str, Stereo>, rate: u32) {
    for (name, gain_db) in [("guitar-left", song.drive_db), ("guitar-right", song.drive_db - 1.5)] {
        let Some(bus) = buses.get_mut(name) else { continue };
        let mut mono: Vec<f32> =
            bus.left.iter().zip(&bus.right).map(|(l, r)| 0.5 * (l + r)).collect();
        amp::drive(&mut mono, rate, gain_db);
        let quiet = mono.iter().map(|x| 0.12 * x).collect();
        (bus.left, bus.right) = if name == "guitar-left" { (mono, quiet) } else { (quiet, mono) };
    }
}

/// Brings every bus to its level; gives the factor of each.
fn balance(song: &Song, buses: &mut BTreeMap<&'static str, Stereo>) -> BTreeMap<&'static str, f32> {
    let mut gains = BTreeMap::new();
    for (name, bus) in buses.iter_mut() {
        let target = match *name {
            "drums" => song.levels.drums,
            "bass" => song.levels.bass,
            "guitar-left" | "guitar-right" => song.levels.guitars,
            "clean-guitar" => song.levels.clean,
            "pad" => song.levels.pad,
            _ => song.levels.organ,
        };
        let gain = truth::loudness(bus).map_or(1.0, |now| db(target - now));
        bus.gain(gain);
        gains.insert(*name, gain);
    }
    gains
}

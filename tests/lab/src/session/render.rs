//! From notes to stems.

use super::plan::{Layer, Plan, Sound};
use super::play::{self, Note, play};
use super::strings;
use crate::corpus::audio::db;
use crate::corpus::drums::Kit;
use crate::corpus::mix::Library;
use crate::corpus::notes::{self, Font};
use crate::corpus::{CorpusError, Stereo, amp, kits, truth};
use brunt_engine::parts::PartRole;
use rand::Rng;

/// A rendered session.
#[derive(Clone, Debug)]
pub struct Rendered {
    /// Sample rate, Hz.
    pub rate: u32,
    /// The stems, in the order of the plan's layers, all of one length.
    pub stems: Vec<Stem>,
}

/// One rendered layer.
#[derive(Clone, Debug)]
pub struct Stem {
    /// The layer's name.
    pub name: &'static str,
    /// What it plays.
    pub role: PartRole,
    /// The sound at the level that it has in the mix.
    pub audio: Stereo,
    /// Every note with its true time, the physical start of the stroke ahead of any amplifier.
    /// Drums: first sample at -30 dB of the first 50 ms. Font notes: at -20 dB of the first 150 ms,
    /// since the font's basses carry up to 40 ms of the finger's noise at -30 dB. Strings: the
    /// pluck.
    pub notes: Vec<Note>,
}

impl Stem {
    /// Times of the notes, s, events closer than `gap_s` as one, at the first.
    #[must_use]
    pub fn times_s(&self, gap_s: f64) -> Vec<f64> {
        let mut times: Vec<f64> = Vec::new();
        for note in &self.notes {
            if times.last().is_none_or(|last| note.time_s - last >= gap_s) {
                times.push(note.time_s);
            }
        }
        times
    }
}

impl Rendered {
    /// The stem of that name.
    ///
    /// # Panics
    /// Where there is none.
    #[must_use]
    pub fn stem(&self, name: &str) -> &Stem {
        self.stems.iter().find(|s| s.name == name).unwrap_or_else(|| panic!("no stem {name}"))
    }

    /// The sum of all stems.
    #[must_use]
    pub fn mix(&self) -> Stereo {
        let frames = self.stems.first().map_or(0, |stem| stem.audio.len());
        let mut mix = Stereo::silence(self.rate, frames);
        for stem in &self.stems {
            mix.add(&stem.audio, 0, 1.0, 1.0);
        }
        mix
    }

    /// True deviations of one stem from another, ms, on every step that both play: step and
    /// difference, late positive. Of several strokes on a step the first counts.
    #[must_use]
    pub fn deviations_ms(&self, name: &str, reference: &str) -> Vec<(usize, f64)> {
        let first = |stem: &Stem, step: usize| {
            stem.notes
                .iter()
                .filter(|note| note.step == step)
                .map(|note| note.time_s)
                .reduce(f64::min)
        };
        let (stem, reference) = (self.stem(name), self.stem(reference));
        let mut steps: Vec<usize> = stem.notes.iter().map(|note| note.step).collect();
        steps.dedup();
        steps
            .into_iter()
            .filter_map(|step| {
                let other = first(reference, step)?;
                Some((step, (first(stem, step)? - other) * 1e3))
            })
            .collect()
    }
}

/// Renders a plan at `rate`, Hz.
///
/// # Errors
/// [`CorpusError`] when a package is missing or the plan asks for what its kit lacks.
pub fn render(plan: &Plan, rate: u32, library: &mut Library) -> Result<Rendered, CorpusError> {
    let stems = plan
        .layers
        .iter()
        .map(|layer| {
            let mut notes = play(plan, layer);
            let audio = self::layer(plan, layer, &mut notes, rate, library)?;
            Ok(Stem { name: layer.name, role: layer.role, audio, notes })
        })
        .collect::<Result<_, CorpusError>>()?;
    Ok(Rendered { rate, stems })
}

fn layer(
    plan: &Plan,
    layer: &Layer,
    notes: &mut [Note],
    rate: u32,
    library: &mut Library,
) -> Result<Stereo, CorpusError> {
    let frames = (play::length_s(plan) * f64::from(rate)) as usize;
    // Times are those of whole frames: the truth is what is rendered.
    for note in notes.iter_mut() {
        note.time_s = (note.time_s * f64::from(rate)).round() / f64::from(rate);
    }
    let mut bus = Stereo::silence(rate, frames);
    let kit = match layer.sound {
        Sound::Kit(name, _) => Some(
            kits::kit(name)
                .ok_or_else(|| CorpusError::Recipe(format!("{}: no kit {name}", plan.name)))?,
        ),
        _ => None,
    };
    let mut contact = strings::random(plan.seed ^ (layer.player << 8));
    for n in 0..notes.len() {
        let note = &notes[n];
        if let Some(kit) = &kit {
            stroke(&mut bus, kit, note, library)?;
            continue;
        }
        // The hand touches the strings a little ahead of the next stroke; until then they ring.
        let next_s = notes.get(n + 1).map_or(f64::INFINITY, |next| next.time_s - note.time_s);
        let contact_s = CONTACT_S.0 + (CONTACT_S.1 - CONTACT_S.0) * contact.random::<f64>();
        let stop_s = if layer.ring {
            note.held_s.max(RING_STEPS * plan.step_s())
        } else {
            (next_s - contact_s).min(note.held_s).max(0.02)
        };
        match &layer.sound {
            Sound::Font(preset, _) => font(&mut bus, *preset, note, stop_s, library)?,
            Sound::Strings(voice, _) => {
                let seed = plan.seed ^ (layer.player << 20) ^ n as u64;
                plucked(&mut bus, voice, note, stop_s, seed);
            }
            Sound::Kit(..) => {}
        }
    }
    if let Some(gain_db) = layer.amp_db {
        let mut mono: Vec<f32> =
            bus.left.iter().zip(&bus.right).map(|(l, r)| 0.5 * (l + r)).collect();
        amp::drive(&mut mono, rate, gain_db);
        bus = Stereo { rate, right: mono.clone(), left: mono };
    }
    let gain = truth::loudness(&bus).map_or(1.0, |now| db(layer.level_lufs - now));
    let angle = (layer.pan + 1.0) * std::f64::consts::FRAC_PI_4;
    let root = std::f64::consts::SQRT_2;
    for (channel, share) in [(&mut bus.left, angle.cos()), (&mut bus.right, angle.sin())] {
        let factor = gain * (root * share) as f32;
        channel.iter_mut().for_each(|x| *x *= factor);
    }
    Ok(bus)
}

/// Time from the touch of the pick, which stops the string, to the next pluck, s: least and most.
/// Ours.
const CONTACT_S: (f64, f64) = (0.003, 0.010);
/// How long a note of a ringing layer sounds at least, steps. Ours.
const RING_STEPS: f64 = 4.0;
/// Time in which a touched string falls silent, s. Ours.
const STOP_S: f64 = 0.005;

fn stroke(
    bus: &mut Stereo,
    kit: &Kit,
    note: &Note,
    library: &mut Library,
) -> Result<(), CorpusError> {
    let Some(drum) = note.drum else { return Ok(()) };
    let clip = library.drum(kit, drum, note.velocity, bus.rate)?;
    let gain = db(drum.level_db() + 40.0 * note.velocity.log10());
    let place = if clip.mono { drum.pan() as f32 } else { 0.0 };
    let at = frame(note, bus.rate) - clip.onset as i64;
    bus.add(&clip.audio, at, gain * (1.0 - place), gain * (1.0 + place));
    Ok(())
}

/// The first frame of a font's note at -20 dB of its first 150 ms.
fn note_onset(clip: &Stereo) -> usize {
    let first = (0.15 * f64::from(clip.rate)) as usize;
    let peak = (0..first.min(clip.len())).map(|n| clip.magnitude(n)).fold(0.0, f32::max);
    (0..clip.len()).find(|&n| clip.magnitude(n) >= 0.1 * peak).unwrap_or(0)
}

/// The frame of a note's onset.
fn frame(note: &Note, rate: u32) -> i64 {
    (note.time_s * f64::from(rate)).round() as i64
}

fn font(
    bus: &mut Stereo,
    preset: i32,
    note: &Note,
    stop_s: f64,
    library: &mut Library,
) -> Result<(), CorpusError> {
    let rate = bus.rate;
    // Palm mutes of the font's guitars are a program of their own.
    let preset = if note.muted && (24..32).contains(&preset) { 28 } else { preset };
    let unit = rate as usize / 20;
    let held = ((note.held_s * f64::from(rate)) as usize / unit + 1) * unit;
    for &key in &note.keys {
        let velocity = (((note.velocity * 127.0) as i32 + 4) / 8 * 8).clamp(8, 127);
        let recipe =
            notes::Note { font: Font::FluidGm, bank: 0, preset, key, velocity, held, tail: unit };
        let clip = library.note(recipe, rate)?;
        let mut audio = clip.audio.clone();
        let onset = note_onset(&audio);
        stop(&mut audio.left, onset, stop_s, rate);
        stop(&mut audio.right, onset, stop_s, rate);
        bus.add(&audio, frame(note, rate) - onset as i64, 1.0, 1.0);
    }
    Ok(())
}

fn plucked(bus: &mut Stereo, voice: &strings::Voice, note: &Note, stop_s: f64, seed: u64) {
    let rate = f64::from(bus.rate);
    let mut random = strings::random(seed);
    for (string, &key) in note.keys.iter().enumerate() {
        let frames = ((stop_s + STOP_S) * rate) as usize + 1;
        let mut sound =
            strings::pluck(voice, strings::hz(key), note.muted, frames, rate, &mut random);
        stop(&mut sound, 0, stop_s, bus.rate);
        sound.iter_mut().for_each(|x| *x *= note.velocity as f32);
        // A downstroke: the truth is the first string's pluck.
        let at = ((note.time_s + string as f64 * voice.strum_s) * rate).round() as i64;
        let audio = Stereo { rate: bus.rate, left: sound.clone(), right: sound };
        bus.add(&audio, at, 1.0, 1.0);
    }
}

/// Ends a note `stop_s` after its onset.
fn stop(channel: &mut Vec<f32>, onset: usize, stop_s: f64, rate: u32) {
    let from = onset + (stop_s * f64::from(rate)) as usize;
    let length = (STOP_S * f64::from(rate)) as usize;
    channel.truncate(from + length);
    let end = channel.len();
    for n in from.min(end)..end {
        channel[n] *= 1.0 - (n - from) as f32 / length as f32;
    }
}

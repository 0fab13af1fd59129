//! Songs of a second kind, for what one generator's songs have in common without anybody having
//! chosen it.
//!
//! It shares with [`crate::session`] nothing but the files of the drum kits, and those of kits that
//! the first one's arrangements do not use. Every choice is another: strokes are spread over the bar
//! evenly by count (E. Bjorklund's algorithm, as G. Toussaint 2005 found it in rhythms of the world) and
//! not written down; players wander, each stroke near the last one's stray, and do not jitter; strings
//! are sums of stiff partials with a decay each and not a delay line; the amplifier is two hard-kneed
//! stages with a coupling capacitor between and not one smooth curve; layers are drawbars and choirs of
//! noise; stems are bounced ahead of the faders, in mono, and the mix has a room that no stem has.
//!
//! | what | where |
//! |---|---|
//! | who strikes when | [`score`] |
//! | what that sounds like | [`sound`] |

pub mod score;
pub mod sound;

use crate::corpus::audio::db;
use crate::corpus::drums::Drum;
use crate::corpus::mix::Library;
use crate::corpus::{CorpusError, Stereo, kits, truth};
use crate::take::{Part, Take, Variant};
use brunt_engine::parts::PartRole;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use score::Song;

const RATE: u32 = 44_100;
/// Kits that the first generator's arrangements leave alone.
const KITS: [&str; 4] = ["forzee", "pacific", "millo2", "red-zeppelin"];

/// A song of a seed, as a variant has it.
///
/// # Errors
/// [`CorpusError`] when a package is missing.
pub fn take(seed: u64, variant: Variant, library: &mut Library) -> Result<Take, CorpusError> {
    let song = Song::new(seed);
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x5eed);
    let kit_name = KITS[random.random_range(0..KITS.len())];
    let kit = kits::kit(kit_name)
        .ok_or_else(|| CorpusError::Recipe(format!("second: no kit {kit_name}")))?;
    let frames = (song.seconds() * f64::from(RATE)) as usize;
    let mut drums = Stereo::silence(RATE, frames);
    for stroke in song.drums() {
        let Some(drum) = stroke.drum else { continue };
        let clip = library.drum(&kit, drum, stroke.hard, RATE)?;
        let level = match drum {
            Drum::Kick => 0.6,
            Drum::Snare => 0.7,
            _ => 0.16,
        };
        let gain = (level * stroke.hard) as f32;
        let at = (stroke.at_s * f64::from(RATE)) as i64 - clip.onset as i64;
        drums.add(&clip.audio, at, gain, gain);
    }
    // Level over the drums, LU, and pan, of each player. The players' order is their number.
    let loud = random.random_range(-1.0..2.0);
    let gain_db = if let Variant::Gain(db) = variant { db } else { 14.0 };
    let mut players: Vec<(&'static str, PartRole, Vec<f32>, f64, f64)> = Vec::new();
    for (number, name) in ["bass", "left", "right"].into_iter().enumerate() {
        let strokes = song.player(number, variant);
        let bass = number == 0;
        let mut dry = vec![0.0; frames];
        for stroke in &strokes {
            sound::pluck(&mut dry, RATE, stroke, bass, seed + number as u64);
        }
        if bass {
            dry.iter_mut().for_each(|x| *x /= 1.0 + 0.6 * x.abs());
        } else {
            let gain_db = if matches!(variant, Variant::Gain(_)) { gain_db } else { 14.0 };
            dry = sound::amplified(&dry, RATE, gain_db + 3.0 * (number - 1) as f64);
        }
        let role = if bass { PartRole::Bass } else { PartRole::Guitars };
        let pan = [0.0, -0.8, 0.75][number];
        players.push((name, role, dry, loud - if bass { 2.5 } else { 4.0 }, pan));
    }
    if let Variant::Layer(level_db) = variant {
        let layer = sound::layer(&song, RATE, frames, seed);
        players.push(("layer", PartRole::Other, layer, loud + level_db, 0.0));
    }
    Ok(mixed(drums, players, seed))
}

/// Stems ahead of the faders, and the mix with a room.
fn mixed(
    drums: Stereo,
    players: Vec<(&'static str, PartRole, Vec<f32>, f64, f64)>,
    seed: u64,
) -> Take {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0xfade);
    let frames = drums.len();
    let loud = truth::loudness(&drums).unwrap_or(-20.0);
    let mut mix = Stereo::silence(RATE, frames);
    mix.add(&drums, 0, 1.0, 1.0);
    let mut parts = vec![Part { name: "drums", role: PartRole::Drums, audio: drums, fader: 1.0 }];
    for (name, role, mono, level_db, pan) in players {
        let stem = Stereo { rate: RATE, right: mono.clone(), left: mono };
        let fader = db(loud + level_db - truth::loudness(&stem).unwrap_or(-20.0));
        let (left, right) = ((1.0 - pan) as f32, (1.0 + pan) as f32);
        mix.add(&stem, 0, fader * left.min(1.0), fader * right.min(1.0));
        // Bounced at whatever level the file came to have.
        let mut audio = stem;
        let bounced: f32 = random.random_range(0.4..1.8);
        audio.gain(fader * bounced);
        parts.push(Part { name, role, audio, fader: 1.0 / bounced });
    }
    let room = sound::room(&mix, seed);
    mix.add(&room, 0, 0.12, 0.12);
    let level = 0.5 / mix.peak().max(1e-6);
    mix.gain(level);
    parts.iter_mut().for_each(|part| part.fader *= level);
    Take { mix, parts }
}

//! Sessions drawn at random, for fitting: patterns, sounds, tempos and feels of the kind that
//! [`super::tuning`] has, on kits and font programs that [`super::testing`] does not use.

use super::plan::{Feel, Layer, Plan, Sound};
use super::strings::Voice;
use crate::corpus::drums::Drum::{
    Crash, HatClosed, HatOpen, HatPedal, Kick, Ride, SideStick, Snare, TomHigh, TomLow, TomMid,
};
use crate::corpus::synth;
use rand::seq::IndexedRandom;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

pub(super) type Rows = &'static [(crate::corpus::drums::Drum, &'static str)];

pub(super) const KITS: &[&str] =
    &["sonic", "millo2", "pacific", "forzee", "red-zeppelin", "gm-standard", "gm-808", "gm-brush"];
const BASSES: &[i32] = &[33, 35, 36];
const GUITARS: &[i32] = &[25, 27, 27, 15, 105, 107];
const VOICES: &[i32] = &[52, 54];

pub(super) const BEATS: &[Rows] = &[
    &[(Kick, "X.....X.X......."), (Snare, "....X.......X..."), (HatClosed, "X.x.X.x.X.x.X.x.")],
    &[(Kick, "X..X..X.X..X..X."), (Snare, "....X..o....X.o."), (Ride, "X.x.X.x.X.x.X.x.")],
    &[(Kick, "X...X...X...X..."), (Snare, "....X.......X..."), (HatOpen, "..X...X...X...X.")],
    &[(Kick, "XxXxXxXxXxXxXxXx"), (Snare, "....X.......X..."), (Crash, "X...............")],
    &[(Kick, "X.xX..x.X.xX..xx"), (Snare, "....X..x....X.o."), (HatClosed, "XxxxXxxxXxxxXxxx")],
    &[(Kick, "X.......x......."), (SideStick, "....X.......X..."), (HatPedal, "....x.......x...")],
    &[(TomHigh, "X.x...x........."), (TomMid, "....X...x..x...."), (TomLow, "..........X.X.xx")],
];
const SHUFFLES: &[Rows] = &[
    &[(Kick, "X.....X..x.."), (Snare, "...X.....X.."), (HatClosed, "X.xX.xX.xX.x")],
    &[(Kick, "X.xX..X.xX.x"), (Snare, "...X..o..X.."), (Ride, "X..X..X..X..")],
];
pub(super) const BASS_ROWS: &[&str] = &[
    "R-R-R-R-R-R-R-R-",
    "R-------R---F---",
    "R..RR..RR..RF.O.",
    "RRRRRRRRRRRRRRRR",
    "R---F---O---F---",
    "R.R-..R.O.R-..F-",
];
const BASS_TRIPLETS: &[&str] = &["R-RR-RR-RR-F", "R--F--O--F--", "RRRRRRRRRRRR"];
pub(super) const RIFFS: &[&str] = &[
    "P-------P---P---",
    "P-P-P-P-P-P-P-P-",
    "m.mmm.mmm.mmP---",
    "mmmmmmmmmmmmmmmm",
    "P-mmP-mmP-mmP-P-",
    "m.m.P-..m.m.P-P.",
    "R-F-O-F-R-F-O-F-",
    "M.mmM.mm..M-..mm",
    "P--P--P-P--P--P-",
];
const RIFF_TRIPLETS: &[&str] = &["P-mm-mP-mm-m", "m.mm.mm.mP--", "P--P--P--P--", "mmmmmmmmmmmm"];
pub(super) const CLEANS: &[&str] = &[
    "R.T.F.O.F.T.R.T.",
    "C---C-C---C-C-C-",
    "..C...C...C...C.",
    "R.R.F-..T.R.O---",
    "C.C.C-..C.C.C-C-",
    "RTFORTFORTFORTFO",
];
const CLEAN_TRIPLETS: &[&str] = &["RTFOFTRTFOFT", "C--C--C-CC--"];
pub(super) const CHORDS: &[&[(i32, bool)]] = &[
    &[(28, true), (31, false), (33, false), (26, true)],
    &[(33, true), (29, false), (36, false), (31, false)],
    &[(24, true), (27, false), (29, true), (24, true)],
    &[(38, false), (33, false), (35, true), (31, false)],
];

/// A session of about `seconds`; the same seed gives the same one.
///
/// # Panics
/// Never: the lists drawn from are not empty.
#[must_use]
pub fn draw(seed: u64, seconds: f64) -> Plan {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let random = &mut random;
    let tempo = random.random_range(72.0..184.0);
    let steps = if random.random_bool(0.25) { 3 } else { 4 };
    let straight = steps == 4;
    let grooves = if straight { BEATS } else { SHUFFLES };
    let beats = pick(random, grooves);
    let bass = pick(random, if straight { BASS_ROWS } else { BASS_TRIPLETS });
    let riff = pick(random, if straight { RIFFS } else { RIFF_TRIPLETS });
    let clean = pick(random, if straight { CLEANS } else { CLEAN_TRIPLETS });
    let vocals = if straight { "R-----F---T-----" } else { "R-----F--T--" };
    let amp_db = random.random_range(12.0..42.0);
    let mut layers = vec![
        Layer::drums(pick(random, KITS), beats),
        Layer::bass(bass_sound(random), bass),
        Layer::guitar("guitar-left", guitar_sound(random, 12), riff, amp_db),
        Layer::guitar("guitar-right", guitar_sound(random, 12), riff, amp_db - 4.0),
        Layer::clean("clean", guitar_sound(random, 24), clean),
        Layer::vocals(pick(random, VOICES), vocals),
    ];
    let second = Layer::drums(pick(random, KITS), pick(random, grooves));
    layers.push(Layer { name: "drums-2", ..second });
    // Kits that nobody has sampled, so that what is fitted knows more of drums than eight kits.
    let beats = pick(random, grooves);
    layers.push(Layer { name: "drums-3", ..Layer::drums(synth::name(seed), beats) });
    let beats = pick(random, grooves);
    let alone = &beats[random.random_range(0..beats.len())..][..1];
    layers.push(Layer { name: "drum-alone", ..Layer::drums(synth::name(seed ^ 1 << 32), alone) });
    layers[4].ring = random.random_bool(0.5);
    layers[4].player += u64::from(clean.as_bytes()[0]);
    let spread_ms = random.random_range(0.0..8.0);
    for layer in &mut layers {
        layer.feel = Feel::of(0.0, spread_ms);
        layer.dynamics = random.random_range(0.0..0.15);
    }
    let bars = (seconds * tempo / 240.0).ceil() as usize;
    let chords = pick(random, CHORDS).to_vec();
    Plan { name: "drawn", tempo, steps, beats: 4, bars, chords, seed, layers }
}

fn bass_sound(random: &mut Pcg64Mcg) -> Sound {
    if random.random_bool(0.5) {
        return Sound::Font(pick(random, BASSES), 0);
    }
    bass_strings(random)
}

pub(super) fn bass_strings(random: &mut Pcg64Mcg) -> Sound {
    let voice = Voice {
        decay_s: random.random_range(1.0..4.0),
        dull: random.random_range(0.35..0.75),
        pick_hz: random.random_range(500.0..3_000.0),
        place: random.random_range(0.1..0.3),
        scrape: random.random_range(0.0..0.12),
        strum_s: 0.0,
    };
    Sound::Strings(voice, 0)
}

fn guitar_sound(random: &mut Pcg64Mcg, above: i32) -> Sound {
    if random.random_bool(0.4) {
        return Sound::Font(pick(random, GUITARS), above);
    }
    guitar_strings(random, above)
}

pub(super) fn guitar_strings(random: &mut Pcg64Mcg, above: i32) -> Sound {
    let voice = Voice {
        decay_s: random.random_range(1.5..5.0),
        dull: random.random_range(0.1..0.5),
        pick_hz: random.random_range(2_000.0..9_000.0),
        place: random.random_range(0.06..0.25),
        scrape: random.random_range(0.0..0.35),
        strum_s: random.random_range(0.0..0.006),
    };
    Sound::Strings(voice, above)
}

pub(super) fn pick<T: Copy>(random: &mut Pcg64Mcg, from: &[T]) -> T {
    *from.choose(random).expect("lists are not empty")
}

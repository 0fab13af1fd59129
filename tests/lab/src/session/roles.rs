//! Stems of every role, drawn at random, for what a part sounds like: bands, single drums, driven
//! basses, lead and acoustic guitars, keys, winds, strings and choirs, treated as stems are.
//!
//! The two sets share no kit, font program, string, pattern or seed. Voices are choirs of the sound
//! font: no singer is among them.

use super::drawn::{self, Rows, pick};
use super::plan::{Feel, Layer, Plan, Sound};
use super::render::{Stem, render};
use super::strings::Voice;
use crate::corpus::audio::db;
use crate::corpus::drums::Drum::{
    Crash, HatClosed, HatOpen, Kick, Ride, SideStick, Snare, TomHigh, TomLow, TomMid,
};
use crate::corpus::mix::Library;
use crate::corpus::process::compress::Compressor;
use crate::corpus::process::equal;
use crate::corpus::{CorpusError, Stereo, synth};
use brunt_engine::parts::PartRole;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// What stems are drawn from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Set {
    /// For the fit.
    Tuning,
    /// For the tests.
    Testing,
}

/// Sounds and patterns of a set; patterns have sixteen steps a bar.
struct Material {
    kits: &'static [&'static str],
    beats: &'static [Rows],
    /// Kicks, snares, cymbals and toms alone.
    single: &'static [Rows],
    bass_programs: &'static [i32],
    basses: &'static [&'static str],
    guitar_programs: &'static [i32],
    riffs: &'static [&'static str],
    cleans: &'static [&'static str],
    leads: &'static [&'static str],
    /// Pianos and other keys; winds, brass and bowed strings; organs, pads and ensembles.
    keys: &'static [i32],
    winds: &'static [i32],
    held: &'static [i32],
    choirs: &'static [i32],
    key_rows: &'static [&'static str],
    wind_rows: &'static [&'static str],
    held_rows: &'static [&'static str],
}

const TUNING: Material = Material {
    kits: drawn::KITS,
    beats: drawn::BEATS,
    single: &[
        &[(Kick, "X.....X.X.x.....")],
        &[(Kick, "X...X...X...X...")],
        &[(Snare, "....X.......X..o")],
        &[(Snare, "....X..o.o..X...")],
        &[(HatClosed, "X.x.X.x.X.x.X.x."), (HatOpen, "..............X.")],
        &[(Ride, "X.x.X.x.X.x.X.x."), (Crash, "X...............")],
        &[
            (TomHigh, "X.x...x........."),
            (TomMid, "....X...x..x...."),
            (TomLow, "..........X.X.xx"),
        ],
        &[(Kick, "X.......X.x....."), (Snare, "....X.......X...")],
    ],
    bass_programs: &[33, 35, 36, 38],
    basses: drawn::BASS_ROWS,
    guitar_programs: &[25, 27, 27, 28, 29],
    riffs: drawn::RIFFS,
    cleans: drawn::CLEANS,
    leads: &["R-F-O---F-T-R---", "O---F-O-T---R---", "R.RTF-O.R.RTF-F-"],
    keys: &[0, 2, 4, 6, 6, 8, 10, 11, 12, 14, 46, 106, 108],
    winds: &[40, 42, 44, 56, 59, 60, 63, 65, 71, 73, 74, 79, 80, 83],
    held: &[16, 16, 18, 21, 23, 48, 50, 61, 84, 87, 88, 90, 92, 94],
    choirs: &[52, 54],
    key_rows: &["C---C---C-C-C---", "R.T.F.O.F.T.R.T.", "C.......C...C..."],
    wind_rows: &["R---F-T-O-------", "R-T-F---........", "F---T---R-R-F---"],
    held_rows: &["C---------------", "C-------C-------", "R-------F-------"],
};

const TESTING: Material = Material {
    kits: &[
        "pearl",
        "black-pearl",
        "gm-room",
        "millo3",
        "gm-power",
        "electric-empire",
        "hard-electro",
    ],
    beats: &[
        &[(Kick, "X..x....X.x....."), (Snare, "....X.......X..."), (HatClosed, "X.x.X.x.X.x.X.x.")],
        &[(Kick, "X.XX.XX.X.XX.XX."), (Snare, "....X.......X..."), (HatOpen, "x...x...x...x...")],
        &[(Kick, "X.....x.X......."), (SideStick, "....X.......X..."), (Ride, "x.x.x.x.x.x.x.x.")],
        &[(Kick, "X.......X......."), (Snare, "....X..o.o..X..o"), (HatClosed, "XxxxXxxxXxxxXxxx")],
        &[(Kick, "X.x...x.X.x....."), (TomLow, "....X.......X.x."), (Crash, "X...............")],
    ],
    single: &[
        &[(Kick, "X..x....X.x.....")],
        &[(Snare, "....X.......X...")],
        &[(HatClosed, "XxxxXxxxXxxxXxxx")],
        &[(Ride, "x.x.x.xxx.x.x.xx"), (Crash, "X...............")],
        &[(TomHigh, "..X.x...X.x....."), (TomLow, "......X.....X.X.")],
        &[(Kick, "X.x...x.X.x....."), (Snare, "....X.......X...")],
    ],
    bass_programs: &[32, 34, 37, 39],
    basses: &[
        "R-RR-R-RR-R-R-F-",
        "R.RR.RR.R.RR.RR.",
        "R-----R-F-----F-",
        "R..R..O-..F..R..",
        "R.R-..R.R.R-.F-.",
    ],
    guitar_programs: &[24, 26, 30],
    riffs: &[
        "P--P--P-P--P-m-m",
        "m.mm.mm.M.mm.mm.",
        "P-P-P-P-P-P-P-P.",
        "m.m-..P.m.m-.P-.",
        "P-------P-------",
    ],
    cleans: &["R.F.T.O.T.F.R.F.", "C---C---C-C-C---", "..C.C.C-..C.C.C-", "R.R.F-..R.O.F-.."],
    leads: &["R-T-F---O-F-T---", "O-----F-T-F-O---", "R.O.F.O.T-F-R---"],
    keys: &[1, 3, 5, 7, 9, 13],
    winds: &[41, 57, 64, 66, 68, 72, 81],
    held: &[17, 19, 20, 49, 51, 62, 89, 91, 95],
    choirs: &[53],
    key_rows: &["C-----C-C---C---", "R.F.T.F.O.F.T.F.", "C...C...C...C.C."],
    wind_rows: &["R-----T-F---O---", "O-F-T---R---....", "T---R---F-F-O---"],
    held_rows: &["C-------------..", "C---C-------C---", "F-------R-------"],
};

/// A plan with a stem of each kind of part, about `seconds` long; the same seed gives the same one.
fn draw(set: Set, seed: u64, seconds: f64) -> Plan {
    let (m, salt) = match set {
        Set::Tuning => (&TUNING, 0x70_1e5),
        Set::Testing => (&TESTING, 0x7e_575),
    };
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ (salt << 20));
    let random = &mut random;
    let string = |random: &mut Pcg64Mcg, above| match set {
        Set::Tuning => drawn::guitar_strings(random, above),
        Set::Testing => Sound::Strings(pick(random, TEST_STRINGS), above),
    };
    let guitar = |random: &mut Pcg64Mcg, above| {
        if random.random_bool(0.5) {
            Sound::Font(pick(random, m.guitar_programs), above)
        } else {
            string(random, above)
        }
    };
    let bass = if random.random_bool(0.6) {
        Sound::Font(pick(random, m.bass_programs), 0)
    } else {
        match set {
            Set::Tuning => drawn::bass_strings(random),
            Set::Testing => Sound::Strings(pick(random, TEST_BASSES), 0),
        }
    };
    let (kit, second) = (pick(random, m.kits), pick(random, m.kits));
    let synth = synth::name(seed * 2 + u64::from(set == Set::Testing));
    let low = random.random_range(0..2) * 12;
    let other = |name, preset: i32, above: i32, row| Layer {
        sound: Sound::Font(preset, above),
        ..Layer::pad(name, preset, row)
    };
    let bass_row = pick(random, m.basses);
    let driven = Layer {
        name: "bass-driven",
        amp_db: Some(random.random_range(0.0..18.0)),
        ..Layer::bass(bass.clone(), pick(random, m.basses))
    };
    let mut layers = vec![
        Layer::drums(kit, pick(random, m.beats)),
        Layer { name: "drum-single", ..Layer::drums(second, pick(random, m.single)) },
        Layer { name: "drums-drawn", ..Layer::drums(synth, pick(random, m.beats)) },
        Layer::bass(bass, bass_row),
        driven,
        Layer::guitar(
            "guitar",
            guitar(random, 12),
            pick(random, m.riffs),
            random.random_range(6.0..40.0),
        ),
        Layer::guitar(
            "lead",
            guitar(random, 24),
            pick(random, m.leads),
            random.random_range(10.0..40.0),
        ),
        Layer::clean("clean", guitar(random, 24 - low), pick(random, m.cleans)),
        other("keys", pick(random, m.keys), 24, pick(random, m.key_rows)),
        other("keys", pick(random, m.keys), 12 + low, pick(random, m.cleans)),
        other("winds", pick(random, m.winds), 24 + low, pick(random, m.wind_rows)),
        other("held", pick(random, m.held), 24, pick(random, m.held_rows)),
        Layer::vocals(pick(random, m.choirs), pick(random, m.wind_rows)),
    ];
    let spread_ms = random.random_range(0.0..8.0);
    for layer in &mut layers {
        layer.feel = Feel::of(0.0, spread_ms);
        layer.dynamics = random.random_range(0.03..0.2);
        layer.ring |= layer.name == "clean" && random.random_bool(0.4);
    }
    let tempo = random.random_range(72.0..184.0);
    let bars = (seconds * tempo / 240.0).ceil() as usize;
    let chords = pick(random, drawn::CHORDS).to_vec();
    Plan { name: "roles", tempo, steps: 4, beats: 4, bars, chords, seed: seed ^ salt, layers }
}

const TEST_STRINGS: &[Voice] = &[super::testing::BRIGHT, super::testing::DARK];
const TEST_BASSES: &[Voice] = &[
    super::testing::WORN_BASS,
    Voice { decay_s: 2.6, dull: 0.42, pick_hz: 2_000.0, place: 0.13, scrape: 0.08, strum_s: 0.0 },
];

/// One treated stem.
#[derive(Clone, Debug)]
pub struct RoleStem {
    /// Kind of part.
    pub name: &'static str,
    /// What it plays.
    pub role: PartRole,
    /// Its sound, at `rate` as rendered.
    pub audio: Stereo,
}

/// The treated stems of a drawn plan.
///
/// # Errors
/// [`CorpusError`] when a package is missing.
pub fn stems(
    set: Set,
    seed: u64,
    seconds: f64,
    rate: u32,
    library: &mut Library,
) -> Result<Vec<RoleStem>, CorpusError> {
    let plan = draw(set, seed, seconds);
    let session = render(&plan, rate, library)?;
    let drums = &session.stems[0].audio;
    let treated = |(index, stem): (usize, &Stem)| RoleStem {
        name: stem.name,
        role: stem.role,
        audio: treat(&stem.audio, stem.role, drums, plan.seed ^ (index as u64) << 40),
    };
    Ok(session.stems.iter().enumerate().map(treated).collect())
}

/// The tone and the compression of most stems, drawn.
pub fn coloured(audio: Stereo, random: &mut Pcg64Mcg) -> Stereo {
    let mut out = audio;
    if random.random_bool(0.7) {
        out = equal::low_shelf(
            &out,
            random.random_range(80.0..250.0),
            random.random_range(-6.0..6.0),
        );
        out =
            equal::high_shelf(&out, random.random_range(2e3..8e3), random.random_range(-6.0..6.0));
        let bell = random.random_range(200.0..3e3);
        out = equal::bell(&out, bell, 1.0, random.random_range(-5.0..5.0));
    }
    if random.random_bool(0.5) {
        let compressor = Compressor {
            below_peak_db: random.random_range(8.0..22.0),
            ratio: random.random_range(2.0..6.0),
            attack_ms: random.random_range(1.0..30.0),
            release_ms: random.random_range(40.0..250.0),
        };
        out = compressor.run(&out);
    }
    out
}

/// What happens to a stem on its way to a bus: tone, compression, a floor of noise, a little of the
/// drums, a rest of some bars, another level. Each in some of the stems alone.
fn treat(audio: &Stereo, role: PartRole, drums: &Stereo, seed: u64) -> Stereo {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0x7_2ea7);
    let random = &mut random;
    let mut out = audio.clone();
    out = coloured(out, random);
    if role != PartRole::Drums && random.random_bool(0.15) {
        let gain = db(random.random_range(-40.0..-26.0));
        out.add(drums, 0, gain, gain);
    }
    if random.random_bool(0.25) {
        // It rests in the second quarter.
        let (from, to) = (out.len() / 4, out.len() / 2);
        out.left[from..to].fill(0.0);
        out.right[from..to].fill(0.0);
    }
    if random.random_bool(0.6) {
        let level = db(random.random_range(-95.0..-65.0));
        for x in out.left.iter_mut().chain(out.right.iter_mut()) {
            *x += level * random.random_range(-1.0f32..1.0);
        }
    }
    out.gain(db(random.random_range(-18.0..6.0)));
    out
}

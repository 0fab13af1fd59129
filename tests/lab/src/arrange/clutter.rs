//! Arrangements of known clutter: locked, scattered, a wall of layers, dense but locked.

use super::draw::Draw;
use crate::corpus::drums::Drum::{self, HatClosed, Kick, Ride, Snare};
use crate::session::strings::Voice;
use crate::session::{Layer, Plan, Rendered, Sound, Stem};

/// What an arrangement is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Few parts that strike with the drums.
    Locked,
    /// Few parts, two of them between the drums' strokes.
    Scattered,
    /// Locked parts under layers that hold through bars.
    Wall,
    /// Many parts, all of which strike with the drums.
    Dense,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 4] = [Self::Locked, Self::Scattered, Self::Wall, Self::Dense];

    /// Whether it is clutter.
    #[must_use]
    pub fn is_clutter(self) -> bool {
        matches!(self, Self::Scattered | Self::Wall)
    }
}

/// A drum pattern, and rows of pitched parts that strike only where it does.
struct Groove {
    drums: &'static [(Drum, &'static str)],
    locked: &'static [&'static str],
    /// Rows that strike where no drum does.
    between: &'static [&'static str],
}

const GROOVES: &[Groove] = &[
    Groove {
        drums: &[
            (Kick, "X.....X.X......."),
            (Snare, "....X.......X..."),
            (HatClosed, "x.x.x.x.x.x.x.x."),
        ],
        locked: &[
            "R.....R.R...R...",
            "P...P.P.P...P...",
            "P.m.P.m.P.m.P.m.",
            "R-..R-..R-..R-..",
            "P.....P.P...P...",
        ],
        between: &["...R.R.R...R.R..", ".R...R.R.R...R.F", ".F.R...R...F.R.R", "...O.R...R.O...R"],
    },
    Groove {
        drums: &[
            (Kick, "X..X..X...X..X.."),
            (Snare, "....X.......X..."),
            (Ride, "x...x...x...x..."),
        ],
        locked: &[
            "R..RR.R...R.RR..",
            "P..PP.P...P.PP..",
            "m..mP.m...m.P-..",
            "P...P-......P-..",
            "m..mm.m...m.mm..",
        ],
        between: &[".R...R.R.R.R...R", "..R..F..R..R..R.", ".F...R..F..R...R", "..O....R.R....O."],
    },
    Groove {
        drums: &[
            (Kick, "X...X.X.X...X.X."),
            (Snare, "..X...X...X...X."),
            (HatClosed, "X...X...X...X..."),
        ],
        locked: &[
            "R.R.R.R.R.R.R.R.",
            "P.P.P.P.P.P.P.P.",
            "m.P.m.P.m.P.m.P.",
            "P...P.P.P...P.P.",
            "..P...P...P...P.",
        ],
        between: &[".R...R.R...R.R.R", "...R.F...R.R...R", ".F.R...F.R...R..", ".O.....R.O...R.R"],
    },
];

const KITS: &[&str] = &["pearl", "millo3", "black-pearl", "gm-standard", "sonic", "gm-power"];
/// Strings, organs, pads, choirs of the General MIDI font.
const PADS: &[i32] = &[16, 18, 48, 50, 52, 89, 90, 91, 95];

/// An arrangement of a kind; the same seed gives the same band and groove for each kind.
#[must_use]
pub fn plan(kind: Kind, seed: u64) -> Plan {
    let mut draw = Draw::new(seed);
    let groove = draw.of(GROOVES);
    let mut plan = band(groove, &mut draw, seed);
    match kind {
        Kind::Locked => {}
        Kind::Scattered => plan.layers.extend(scattered(groove, &mut draw, 2)),
        Kind::Wall => plan.layers.extend(wall(&mut draw)),
        Kind::Dense => {
            for (n, name) in ["guitar-3", "guitar-4", "keys", "clean"].into_iter().enumerate() {
                let row = groove.locked[1 + n % (groove.locked.len() - 1)];
                let mut layer = match name {
                    "keys" => Layer::pad(name, 4, row),
                    "clean" => Layer::clean(name, Sound::Font(25, 24), row),
                    _ => Layer::guitar(name, Sound::Font(27, 12), row, 10.0),
                };
                layer.level_lufs = -23.0 + draw.range(-1.5, 1.5);
                plan.layers.push(layer);
            }
        }
    }
    for layer in &mut plan.layers {
        layer.feel.spread_ms = draw.range(1.0, 4.0);
    }
    plan
}

/// Drums, bass and two guitars that strike together.
#[must_use]
pub fn clean(seed: u64) -> Plan {
    let mut draw = Draw::new(seed);
    let groove = draw.of(GROOVES);
    let mut plan = band(groove, &mut draw, seed);
    for layer in &mut plan.layers {
        layer.feel.spread_ms = draw.range(1.0, 3.0);
        // Guitars as loud as a heavy song has them, with chords that ring to the next.
        if layer.amp_db.is_some() {
            layer.level_lufs = -19.5;
            layer.row = ringing(groove.locked[1]);
        }
    }
    plan
}

/// The band of [`clean`] with the same seed, bass and guitars each in a rhythm of its own.
#[must_use]
pub fn scattered_band(seed: u64) -> Plan {
    let mut plan = clean(seed);
    let mut draw = Draw::new(seed);
    let groove = draw.of(GROOVES);
    let pitched = plan.layers.iter_mut().filter(|layer| !layer.row.is_empty());
    for (number, layer) in pitched.enumerate() {
        let row = groove.between[(seed as usize + number) % groove.between.len()];
        let chords = row.replace(['R', 'F', 'O'], "P");
        let guitar = layer.amp_db.is_some();
        layer.row = if guitar { ringing(&chords) } else { row };
    }
    plan
}

/// A row whose rests are held. Not for muted notes, whose gain cannot be read.
fn ringing(row: &str) -> &'static str {
    Box::leak(row.replace('.', "-").into_boxed_str())
}

/// Two layers that hold through a song of [`clean`] with the same seed, as loud as its guitars.
pub(super) fn held_for(seed: u64) -> Vec<Layer> {
    let mut layers = wall(&mut Draw::new(seed + 7_000));
    layers.truncate(2);
    layers.iter_mut().for_each(|layer| layer.level_lufs += 1.0);
    layers
}

fn band(groove: &'static Groove, draw: &mut Draw, seed: u64) -> Plan {
    let strings = |draw: &mut Draw| match draw.below(3) {
        0 => Sound::Strings(Voice::PICKED, 12),
        1 => Sound::Strings(Voice::SOFT, 12),
        _ => Sound::Font(26, 12),
    };
    let kit: &&str = draw.of(KITS);
    let row = groove.locked[1 + draw.below(groove.locked.len() - 1)];
    let gain_db = draw.range(6.0, 11.0);
    Plan {
        name: "drawn",
        tempo: draw.range(92.0, 132.0).round(),
        steps: 4,
        beats: 4,
        bars: 8,
        chords: vec![(28, true), (31, false), (33, false), (36, false)],
        seed,
        layers: vec![
            Layer::drums(kit, groove.drums),
            Layer::bass(Sound::Font(33 + draw.below(2) as i32, 0), groove.locked[0]),
            Layer::guitar("guitar-left", strings(draw), row, gain_db).panned(-0.9),
            Layer::guitar("guitar-right", strings(draw), row, gain_db).panned(0.9),
        ],
    }
}

fn scattered(groove: &'static Groove, draw: &mut Draw, count: usize) -> Vec<Layer> {
    let first = draw.below(groove.between.len());
    (0..count)
        .map(|n| {
            let row = groove.between[(first + n) % groove.between.len()];
            let name = ["answer", "filler"][n % 2];
            let mut layer = match draw.below(3) {
                0 => Layer::clean(name, Sound::Strings(Voice::SOFT, 24), row),
                1 => Layer::clean(name, Sound::Font(27, 24), row),
                _ => Layer::pad(name, 5, row),
            };
            layer.level_lufs = -20.0 + draw.range(-1.0, 1.5);
            layer
        })
        .collect()
}

fn wall(draw: &mut Draw) -> Vec<Layer> {
    let first = draw.below(PADS.len());
    ["layer-1", "layer-2", "layer-3", "layer-4", "layer-5", "layer-6"]
        .into_iter()
        .enumerate()
        .map(|(n, name)| {
            let mut layer = Layer::pad(name, PADS[(first + n) % PADS.len()], "C---------------");
            layer.level_lufs = -20.5 + draw.range(-1.0, 1.0);
            layer
        })
        .collect()
}

/// Shared-onset ratio of two stems from the programmed times: one to one within `within_s`,
/// strokes closer than 25 ms as one. (By the definition in the design, from the truth alone.)
#[must_use]
pub fn true_ratio(session: &Rendered, name: &str, within_s: f64) -> f64 {
    let times = |stem: &Stem| stem.times_s(0.025);
    let (drums, part) = (times(session.stem("drums")), times(session.stem(name)));
    let mut taken = vec![false; drums.len()];
    let mut both = 0;
    for at in &part {
        let near = (0..drums.len())
            .filter(|&n| !taken[n] && (drums[n] - at).abs() <= within_s)
            .min_by(|&a, &b| (drums[a] - at).abs().total_cmp(&(drums[b] - at).abs()));
        if let Some(n) = near {
            taken[n] = true;
            both += 1;
        }
    }
    f64::from(both) / (drums.len() + part.len() - both as usize) as f64
}

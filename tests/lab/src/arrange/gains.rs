//! One riff through an amplifier at rising gains, brought to one loudness.

use crate::corpus::CorpusError;
use crate::corpus::mix::Library;
use crate::session::strings::Voice;
use crate::session::{Layer, Plan, Rendered, Sound, render};

/// The gains, dB.
pub const GAINS_DB: [f64; 6] = [0.0, 6.0, 12.0, 18.0, 24.0, 30.0];

/// Riffs of a bar in sixteenths: open chords, strums, single notes, chugs, gallops, rests.
pub const RIFFS: &[(&str, &str)] = &[
    ("whole chords", "P-------P-------"),
    ("quarters", "P---P---P---P---"),
    ("eighths", "P-P-P-P-P-P-P-P-"),
    ("strums", "C---C-C---C-C-C-"),
    ("off the beat", "..P-..P---P..P--"),
    ("stabs", "P.P...P.P.P...P."),
    ("line", "R---F-R-T-----O-"),
    ("chugs in sixteenths", "mmmmmmmmmmmmmmmm"),
    ("chugs in eighths", "m.m.m.m.m.m.m.m."),
    ("gallop", "m.mmm.mmm.mmP---"),
    ("chugs and chords", "m.m.P-----m.P---"),
    ("muted chords", "M.MM.MM.M.MM.MM."),
];

/// Instruments.
pub const SOUNDS: &[(&str, Sound)] = &[
    ("picked", Sound::Strings(Voice::PICKED, 12)),
    ("soft", Sound::Strings(Voice::SOFT, 12)),
    ("font 27", Sound::Font(27, 12)),
    ("font 26", Sound::Font(26, 12)),
];

/// A riff at a gain; its level is other at every gain and seed.
///
/// # Errors
/// [`CorpusError`] when a package is missing.
pub fn riff(
    row: &'static str,
    sound: &Sound,
    tempo: f64,
    seed: u64,
    gain_db: f64,
    library: &mut Library,
) -> Result<Rendered, CorpusError> {
    let mut layer = Layer::guitar("guitar", sound.clone(), row, gain_db);
    layer.dynamics = 0.12;
    layer.level_lufs = -23.0;
    let plan = Plan {
        name: "riff",
        tempo,
        steps: 4,
        beats: 4,
        bars: 4,
        chords: vec![(28, true), (31, false), (33, true), (26, false)],
        seed,
        layers: vec![layer],
    };
    let mut out = render(&plan, 48_000, library)?;
    // The reading must not follow the level: six gains, six levels, up and down.
    let step = (gain_db / 6.0) as i32;
    let level_db = f64::from((step * 7 + seed as i32) % 5 - 2) * 4.0;
    out.stems[0].audio.gain(crate::corpus::audio::db(level_db));
    Ok(out)
}

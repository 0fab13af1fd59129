//! A song as data: sections of bars, written as rows of characters.
//!
//! A row has one character a step, all rows of a song the same number of steps a bar. Drum rows:
//! `X` accent, `x` plain, `o` ghost, `.` rest. Part rows: `R` root, `F` fifth above, `O` octave
//! above, `-` hold, `.` rest; guitar rows also `P` power chord, `m` palm mute. Pad and organ rows
//! play the bar's triad at `C`.

use super::drums::Drum;

/// A pattern of one drum.
pub type DrumRow = (Drum, &'static str);

/// Part of a song.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// Times that the chords below are gone through.
    pub repeats: usize,
    /// One chord a bar: MIDI key of the root in the octave of the bass, and whether it is minor.
    pub chords: &'static [(i32, bool)],
    /// Drum rows of a bar; several bars' worth of characters cycle.
    pub drums: &'static [DrumRow],
    /// Drum rows of the last bar, instead of the others.
    pub fill: &'static [DrumRow],
    /// Whether the section starts with a crash.
    pub crash: bool,
    /// Row of the bass guitar.
    pub bass: &'static str,
    /// Row of the two saturated guitars.
    pub guitars: &'static str,
    /// Row of the clean guitar.
    pub clean: &'static str,
    /// Row of strings or pad.
    pub pad: &'static str,
    /// Row of the organ.
    pub organ: &'static str,
}

impl Section {
    /// Nothing plays: the start for a section written with `..Section::REST`.
    pub const REST: Self = Self {
        repeats: 1,
        chords: &[(40, true)],
        drums: &[],
        fill: &[],
        crash: false,
        bass: "",
        guitars: "",
        clean: "",
        pad: "",
        organ: "",
    };
}

/// Levels of the buses, LUFS (integrated, each bus alone).
#[derive(Clone, Copy, Debug)]
pub struct Levels {
    /// Drums.
    pub drums: f64,
    /// Bass guitar.
    pub bass: f64,
    /// Each saturated guitar.
    pub guitars: f64,
    /// Clean guitar.
    pub clean: f64,
    /// Strings or pad.
    pub pad: f64,
    /// Organ.
    pub organ: f64,
}

impl Levels {
    /// A rough balance of our own: drums lead, bass follows, the rest under them.
    pub const ROUGH: Self =
        Self { drums: -18.0, bass: -21.0, guitars: -23.0, clean: -25.0, pad: -28.0, organ: -28.0 };
}

/// A song.
#[derive(Clone, Copy, Debug)]
pub struct Song {
    /// Our name of it.
    pub name: &'static str,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Steps a quarter note: 4 for sixteenths, 3 for triplets.
    pub steps: usize,
    /// Quarter notes a bar.
    pub beats: usize,
    /// Name of the drum kit.
    pub kit: &'static str,
    /// MIDI program of the bass (General MIDI).
    pub bass: i32,
    /// MIDI program of the pad.
    pub pad: i32,
    /// Drive of the saturated guitars, dB.
    pub drive_db: f64,
    /// Spread of velocities, sd as a share of the velocity; 0 for a programmed song.
    pub dynamics: f64,
    /// Spread of timing, sd in ms, of all that falls on one step together.
    pub loose_ms: f64,
    /// Spread of timing, sd in ms, of each drum apart.
    pub limbs_ms: f64,
    /// Levels of the buses.
    pub levels: Levels,
    /// Seed of everything random.
    pub seed: u64,
    /// The sections.
    pub sections: &'static [Section],
}

impl Song {
    /// Steps a bar.
    #[must_use]
    pub fn steps_a_bar(&self) -> usize {
        self.steps * self.beats
    }

    /// Length of a step, s.
    #[must_use]
    pub fn step_s(&self) -> f64 {
        60.0 / self.tempo / self.steps as f64
    }

    /// Bars of the whole song.
    #[must_use]
    pub fn bars(&self) -> usize {
        self.sections.iter().map(|s| s.repeats * s.chords.len()).sum()
    }
}

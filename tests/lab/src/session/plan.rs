//! A session as data.
//!
//! Patterns are rows of characters, one a step, as long as one bar or several; they repeat. Drum
//! rows: `X` accent, `x` plain, `o` ghost, `.` rest. Pitched rows: `R` root, `F` fifth, `O`
//! octave, `T` third, `P` power chord, `m` palm-muted root, `M` palm-muted power chord, `C` triad,
//! `-` hold, `.` rest.

use crate::corpus::drums::Drum;
use brunt_engine::parts::PartRole;

/// A session.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Name in tables.
    pub name: &'static str,
    /// Quarter notes a minute.
    pub tempo: f64,
    /// Steps a quarter note: 4 for sixteenths, 3 for triplets.
    pub steps: usize,
    /// Quarter notes a bar.
    pub beats: usize,
    /// Bars.
    pub bars: usize,
    /// One chord a bar, repeated: MIDI key of the root in the bass, and whether it is minor.
    pub chords: Vec<(i32, bool)>,
    /// Seed of everything random.
    pub seed: u64,
    /// The layers, a stem each.
    pub layers: Vec<Layer>,
}

impl Plan {
    /// Length of a step, s.
    #[must_use]
    pub fn step_s(&self) -> f64 {
        60.0 / self.tempo / self.steps as f64
    }

    /// Steps a bar.
    #[must_use]
    pub fn steps_a_bar(&self) -> usize {
        self.steps * self.beats
    }

    /// The layer of that name.
    ///
    /// # Panics
    /// Where there is none.
    pub fn layer(&mut self, name: &str) -> &mut Layer {
        self.layers
            .iter_mut()
            .find(|layer| layer.name == name)
            .unwrap_or_else(|| panic!("no layer {name}"))
    }

    /// The same with another feel for one layer.
    ///
    /// # Panics
    /// Where there is no layer of that name.
    #[must_use]
    pub fn with_feel(&self, name: &str, feel: Feel) -> Self {
        let mut plan = self.clone();
        plan.layer(name).feel = feel;
        plan
    }
}

/// How a player strays from the grid. Times in ms; late is positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Feel {
    /// Constant offset.
    pub offset_ms: f64,
    /// Standard deviation around it; no note strays more than two and a half.
    pub spread_ms: f64,
    /// Drift over the song, ms a minute.
    pub drift_ms: f64,
    /// A passage that is off by so much more: first bar, bar after the last, ms.
    pub passage: Option<(usize, usize, f64)>,
}

impl Feel {
    /// On the grid.
    pub const EXACT: Self = Self { offset_ms: 0.0, spread_ms: 0.0, drift_ms: 0.0, passage: None };

    /// A constant offset and a spread.
    #[must_use]
    pub fn of(offset_ms: f64, spread_ms: f64) -> Self {
        Self { offset_ms, spread_ms, ..Self::EXACT }
    }
}

/// One part of the band.
#[derive(Clone, Debug)]
pub struct Layer {
    /// Name of the stem.
    pub name: &'static str,
    /// What it plays.
    pub role: PartRole,
    /// What it sounds like.
    pub sound: Sound,
    /// Pattern of a pitched layer; drums have theirs in [`Sound::Kit`].
    pub row: &'static str,
    /// Whether notes ring into the next ones, on strings of their own; else each stops the last.
    pub ring: bool,
    /// Gain of the amplifier, dB; `None` for no amplifier.
    pub amp_db: Option<f64>,
    /// How it strays.
    pub feel: Feel,
    /// Spread of velocities, sd as a share.
    pub dynamics: f64,
    /// Integrated loudness of the stem, LUFS.
    pub level_lufs: f64,
    /// Place from -1, left, to 1, right.
    pub pan: f64,
    /// Number of the player: layers with different ones stray apart.
    pub player: u64,
}

/// What a layer sounds like.
#[derive(Clone, Debug)]
pub enum Sound {
    /// A kit of the corpus, by name, and its rows.
    Kit(&'static str, &'static [(Drum, &'static str)]),
    /// A melodic program of the General MIDI font, and steps above the chord's root.
    Font(i32, i32),
    /// Synthesised plucked strings, and steps above the chord's root.
    Strings(super::strings::Voice, i32),
}

impl Layer {
    const BASE: Self = Self {
        name: "",
        role: PartRole::Other,
        sound: Sound::Font(0, 0),
        row: "",
        ring: false,
        amp_db: None,
        feel: Feel::EXACT,
        dynamics: 0.06,
        level_lufs: -23.0,
        pan: 0.0,
        player: 0,
    };

    /// Drums.
    #[must_use]
    pub fn drums(kit: &'static str, rows: &'static [(Drum, &'static str)]) -> Self {
        Self {
            name: "drums",
            role: PartRole::Drums,
            sound: Sound::Kit(kit, rows),
            level_lufs: -18.0,
            player: 1,
            ..Self::BASE
        }
    }

    /// A bass guitar.
    #[must_use]
    pub fn bass(sound: Sound, row: &'static str) -> Self {
        Self {
            name: "bass",
            role: PartRole::Bass,
            sound,
            row,
            level_lufs: -20.0,
            player: 2,
            ..Self::BASE
        }
    }

    /// A distorted guitar.
    #[must_use]
    pub fn guitar(name: &'static str, sound: Sound, row: &'static str, amp_db: f64) -> Self {
        Self {
            name,
            role: PartRole::Guitars,
            sound,
            row,
            amp_db: Some(amp_db),
            level_lufs: -22.0,
            player: name.bytes().fold(3, |sum, byte| 31 * sum + u64::from(byte)),
            ..Self::BASE
        }
    }

    /// A clean guitar.
    #[must_use]
    pub fn clean(name: &'static str, sound: Sound, row: &'static str) -> Self {
        Self { amp_db: None, level_lufs: -24.0, ..Self::guitar(name, sound, row, 0.0) }
    }

    /// A voice.
    #[must_use]
    pub fn vocals(preset: i32, row: &'static str) -> Self {
        Self {
            name: "vocals",
            role: PartRole::Vocals,
            sound: Sound::Font(preset, 24),
            row,
            level_lufs: -21.0,
            player: 5,
            ..Self::BASE
        }
    }

    /// Strings, pad or organ.
    #[must_use]
    pub fn pad(name: &'static str, preset: i32, row: &'static str) -> Self {
        Self {
            name,
            sound: Sound::Font(preset, 24),
            row,
            level_lufs: -26.0,
            player: name.bytes().fold(7, |sum, byte| 31 * sum + u64::from(byte)),
            ..Self::BASE
        }
    }

    /// The same at a place between left (-1) and right (1).
    #[must_use]
    pub fn panned(self, pan: f64) -> Self {
        Self { pan, ..self }
    }

    /// The same with notes that ring into the next ones.
    #[must_use]
    pub fn ringing(self) -> Self {
        Self { ring: true, ..self }
    }

    /// The same with a feel.
    #[must_use]
    pub fn played(self, feel: Feel) -> Self {
        Self { feel, ..self }
    }
}

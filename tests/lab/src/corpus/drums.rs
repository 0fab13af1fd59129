//! The pieces of a kit, and where a kit's sounds come from.

use super::packages::Package;

/// A piece of a drum kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Drum {
    Kick,
    Snare,
    SideStick,
    Clap,
    HatClosed,
    HatOpen,
    HatPedal,
    Ride,
    Crash,
    TomHigh,
    TomMid,
    TomLow,
    Cowbell,
}

impl Drum {
    /// All pieces.
    pub const ALL: [Self; 13] = [
        Self::Kick,
        Self::Snare,
        Self::SideStick,
        Self::Clap,
        Self::HatClosed,
        Self::HatOpen,
        Self::HatPedal,
        Self::Ride,
        Self::Crash,
        Self::TomHigh,
        Self::TomMid,
        Self::TomLow,
        Self::Cowbell,
    ];

    /// Name in truth files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Kick => "kick",
            Self::Snare => "snare",
            Self::SideStick => "side-stick",
            Self::Clap => "clap",
            Self::HatClosed => "hat-closed",
            Self::HatOpen => "hat-open",
            Self::HatPedal => "hat-pedal",
            Self::Ride => "ride",
            Self::Crash => "crash",
            Self::TomHigh => "tom-high",
            Self::TomMid => "tom-mid",
            Self::TomLow => "tom-low",
            Self::Cowbell => "cowbell",
        }
    }

    /// Peak level of a full-velocity hit in the drum bus, dB re the kick. A rough mix of our own;
    /// songs can move it.
    #[must_use]
    pub fn level_db(self) -> f64 {
        match self {
            Self::Kick => 0.0,
            Self::Snare | Self::Clap => -0.5,
            Self::TomHigh | Self::TomMid | Self::TomLow => -2.0,
            Self::SideStick => -6.0,
            Self::Crash => -8.0,
            Self::Cowbell => -11.0,
            Self::HatOpen => -12.0,
            Self::Ride => -14.0,
            Self::HatClosed | Self::HatPedal => -15.0,
        }
    }

    /// Place between left (-1) and right (+1) for sounds that are recorded in mono.
    #[must_use]
    pub fn pan(self) -> f64 {
        match self {
            Self::HatClosed | Self::HatOpen | Self::HatPedal => 0.3,
            Self::Ride => -0.35,
            Self::Crash => -0.2,
            Self::TomHigh => 0.3,
            Self::TomLow => -0.4,
            Self::Cowbell => 0.2,
            _ => 0.0,
        }
    }
}

/// Where the sounds of a piece come from.
#[derive(Clone, Debug)]
pub enum Source {
    /// Sample files of a package, softest first: velocity picks one.
    Files(Package, &'static [&'static str]),
    /// A key of a drum set in a sound font; the font picks by velocity.
    Font {
        /// The font.
        font: super::notes::Font,
        /// MIDI bank; 128 is the percussion bank.
        bank: i32,
        /// MIDI program.
        preset: i32,
        /// MIDI key.
        key: i32,
    },
    /// A drawn voice, see [`super::synth`].
    Synth {
        /// Seed of the kit.
        seed: u64,
    },
}

/// A kit: a name and its pieces.
#[derive(Clone, Debug)]
pub struct Kit {
    /// Our name of it, for tables.
    pub name: &'static str,
    /// Whether it was recorded from drums (else: synthesised).
    pub acoustic: bool,
    /// The pieces.
    pub pieces: Vec<(Drum, Source)>,
}

impl Kit {
    /// Where the sounds of `drum` come from; a missing piece is played on its nearest relative.
    #[must_use]
    pub fn source(&self, drum: Drum) -> Option<&Source> {
        let own = |d: Drum| self.pieces.iter().find(|(p, _)| *p == d).map(|(_, s)| s);
        let stand_in = match drum {
            Drum::HatPedal => Drum::HatClosed,
            Drum::Clap | Drum::SideStick | Drum::Cowbell => Drum::Snare,
            Drum::TomHigh | Drum::TomLow => Drum::TomMid,
            Drum::Ride => Drum::HatClosed,
            Drum::HatOpen => Drum::HatClosed,
            other => other,
        };
        own(drum).or_else(|| own(stand_in))
    }
}

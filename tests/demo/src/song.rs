//! The demo's session: an invented band plays an invented song on instruments made in code.
//!
//! [`render`] gives a [`Session`]: the stems as they stand on the mixing desk, and the mix. The
//! clean version is a fair mix with its peaks whole; every other version is the same performance
//! with one thing done to it that costs punch, see [`Version`]. Everything is drawn from seeded
//! random numbers, so that every run gives the same samples.
//!
//! Nothing here was recorded, and nothing follows any existing song.

mod amp;
mod cymbals;
mod drums;
mod feel;
mod filter;
mod layers;
mod limiter;
mod mixdown;
mod pad;
mod room;
mod score;
mod stereo;
mod strings;
mod voice;

#[cfg(test)]
mod tests;

use brunt_engine::parts::PartRole;
use limiter::Limited;
pub use stereo::Stereo;

/// The invented band.
pub const BAND: &str = "Nine Slow Ferries";
/// The invented song.
pub const TITLE: &str = "Lantern Weight";
/// Sample rate of the session, Hz.
pub const SAMPLE_RATE_HZ: u32 = 48_000;
/// Tempo, beats (quarters) a minute.
pub const TEMPO_BPM: f64 = 112.0;
/// Length of the session, s: a bar to count in, sixteen bars of 4/4, a last chord and its ring.
pub const DURATION_S: f64 = 40.0;

/// What was done to the song. All but [`Version::Clean`] cost punch, each in one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Version {
    /// Tight playing, moderate gain, a balance near the published long-term curve, no limiter.
    Clean,
    /// The clean mix 7 dB hotter into a look-ahead limiter.
    Ceiling,
    /// Both guitars and the bass 10 to 30 ms early or late, and unsteady.
    Timing,
    /// Two more rhythms and two sustained layers between the hits.
    Clutter,
    /// The guitars' gain 26 dB up.
    Drive,
    /// The clean mix with shelves near 60 Hz and 12 kHz up and the mids scooped.
    Mids,
}

impl Version {
    /// All versions, the clean one first.
    pub const ALL: [Self; 6] =
        [Self::Clean, Self::Ceiling, Self::Timing, Self::Clutter, Self::Drive, Self::Mids];

    /// One word, for file names and tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Ceiling => "ceiling",
            Self::Timing => "timing",
            Self::Clutter => "clutter",
            Self::Drive => "drive",
            Self::Mids => "mids",
        }
    }

    /// What was done to the song, in a few words.
    #[must_use]
    pub fn what(self) -> &'static str {
        match self {
            Self::Clean => "the mix as it should be, no limiter",
            Self::Ceiling => "7 dB hotter into a look-ahead limiter",
            Self::Timing => "guitars and bass 10-30 ms off, and unsteady",
            Self::Clutter => "two more rhythms and two sustained layers",
            Self::Drive => "guitar gain 26 dB up",
            Self::Mids => "60 Hz and 12 kHz shelved up, mids scooped",
        }
    }
}

/// One part of the session, at its level in the mix.
#[derive(Clone, Debug)]
pub struct Stem {
    /// What it plays.
    pub role: PartRole,
    /// Its name on the desk.
    pub name: &'static str,
    /// Its sound, with its level and place in the mix.
    pub audio: Stereo,
}

/// A version of the song.
#[derive(Clone, Debug)]
pub struct Session {
    /// What was done to it.
    pub version: Version,
    /// The parts ahead of the mix bus. Their sum is the mix of every version but
    /// [`Version::Ceiling`] and [`Version::Mids`], which change the mix bus.
    pub stems: Vec<Stem>,
    /// The mix.
    pub mix: Stereo,
    /// When kick, snare and toms are struck, s, in order; ghost notes left out.
    pub drum_hits_s: Vec<f64>,
    /// The limiter's gain at every frame, dB, zero or less; empty where there is none.
    pub limiter_gain_db: Vec<f32>,
}

/// Plays and mixes one version.
#[must_use]
pub fn render(version: Version) -> Session {
    let strokes = score::strokes();
    let drum_hits_s = feel::main_hits_s(&strokes);
    let mut stems = mixdown::stems(version);
    let mut mix = mixdown::sum(&stems);
    if version == Version::Mids {
        mixdown::scoop(&mut mix);
    }
    let gain = mixdown::level(&mut mix);
    for stem in &mut stems {
        stem.audio.scale(gain);
    }
    let mut limiter_gain_db = Vec::new();
    if version == Version::Ceiling {
        let Limited { audio, gain_db } = limiter::limit(&mix);
        mix = audio;
        limiter_gain_db = gain_db;
    }
    Session { version, stems, mix, drum_hits_s, limiter_gain_db }
}

/// Seconds to frames, rounded.
fn frames(seconds: f64) -> usize {
    (seconds * f64::from(SAMPLE_RATE_HZ)).round().max(0.0) as usize
}

/// Decibels to a factor.
fn db(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

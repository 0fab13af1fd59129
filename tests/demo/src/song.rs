//! The demo's session: an invented band plays an invented song on instruments made in code.
//!
//! [`render`] gives a [`Session`]: the stems as they stand on the mixing desk, and the mix. The
//! clean version is a fair mix with its peaks whole; every other version is the same performance
//! with one thing done to it that costs punch, see [`Version`]. Everything is drawn from seeded
//! random numbers, so that every run gives the same samples.
//!
//! Nothing here was recorded, and nothing follows any existing song.

mod amp;
mod base;
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
mod stem;
mod stereo;
mod strings;
mod voice;

#[cfg(test)]
mod tests;

pub use base::{BAND, DURATION_S, SAMPLE_RATE_HZ, TEMPO_BPM, TITLE, Version};
use base::{db, frames};
use limiter::Limited;
pub use mixdown::sum;
pub use stem::Stem;
pub use stereo::Stereo;

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

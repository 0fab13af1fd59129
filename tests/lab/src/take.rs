//! A song with its stems, and what can be put into it.

use crate::corpus::Stereo;
use brunt_engine::parts::PartRole;

/// A stem.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name.
    pub name: &'static str,
    /// What it plays.
    pub role: PartRole,
    /// Its sound.
    pub audio: Stereo,
    /// What it is turned up by in the mix, linear.
    pub fader: f32,
}

/// A song's mix and its stems.
#[derive(Clone, Debug)]
pub struct Take {
    /// The mix.
    pub mix: Stereo,
    /// The stems, the drums first.
    pub parts: Vec<Part>,
}

/// What is put into a song.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Variant {
    /// Nothing: everybody strikes with the drums.
    Locked,
    /// Bass and guitars late by so many ms.
    Late(f64),
    /// Bass and guitars with a spread of so many ms.
    Jitter(f64),
    /// Bass and guitars in rhythms of their own, with as many notes.
    Scattered,
    /// A layer that holds through everything, so many dB over the guitars' level.
    Layer(f64),
    /// Guitars at a gain of so many dB, at one loudness.
    Gain(f64),
}

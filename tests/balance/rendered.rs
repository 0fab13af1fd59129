//! Songs rendered once for all tests of this binary.

use brunt_lab::corpus::measure::{Measured, measure};
use brunt_lab::corpus::mix::{Library, render};
use brunt_lab::corpus::{Song, Stereo, kits, shuffle, songs};
use rayon::prelude::*;
use std::sync::OnceLock;

/// Seconds of each song that are heard.
const SECONDS: f64 = 16.0;
/// Songs drawn beside the written ones.
const DRAWN: u64 = 12;

/// A song and its mix, which nothing has processed.
pub struct Rendered {
    /// Name of the song.
    pub name: &'static str,
    /// The mix.
    pub mix: Stereo,
}

/// All written songs, and some drawn from their material with other kits and levels.
pub fn all() -> &'static [Rendered] {
    static ALL: OnceLock<Vec<Rendered>> = OnceLock::new();
    ALL.get_or_init(|| {
        let drawn = (0..DRAWN).map(|n| shuffle::draw(songs::ALL, &kits::NAMES, SECONDS, 4_000 + n));
        let all: Vec<Song> = songs::ALL.iter().copied().chain(drawn).collect();
        all.par_iter()
            .map_init(Library::default, |library, song| Rendered {
                name: song.name,
                mix: render(song, 48_000, library)
                    .unwrap_or_else(|e| panic!("{}: {e}", song.name))
                    .first(SECONDS)
                    .audio,
            })
            .collect()
    })
}

/// The engine's public meter over a mix.
pub fn meter(audio: &Stereo) -> Measured {
    measure(audio).unwrap_or_else(|e| panic!("{e}"))
}

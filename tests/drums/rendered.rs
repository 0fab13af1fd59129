//! Every song rendered once for all tests of this binary.

use brunt_lab::corpus::measure::{Measured, measure};
use brunt_lab::corpus::mix::{Library, Mix, render};
use brunt_lab::corpus::{Song, Stereo, songs};
use rayon::prelude::*;
use std::sync::OnceLock;

/// Rate of the renders, Hz.
pub const RATE: u32 = 48_000;
/// Events closer than this are one hit, s: a hand and a foot that mean the same instant.
pub const GAP_S: f64 = 0.015;

/// A song with its render.
pub struct Rendered {
    /// The recipe.
    pub song: Song,
    /// The render.
    pub mix: Mix,
}

/// All songs.
pub fn all() -> &'static [Rendered] {
    static ALL: OnceLock<Vec<Rendered>> = OnceLock::new();
    ALL.get_or_init(|| {
        songs::ALL
            .par_iter()
            .map_init(Library::default, |library, song| Rendered {
                song: *song,
                mix: render(song, RATE, library).unwrap_or_else(|e| panic!("{e}")),
            })
            .collect()
    })
}

/// One song.
pub fn one(name: &str) -> &'static Rendered {
    all().iter().find(|r| r.song.name == name).unwrap_or_else(|| panic!("no song {name}"))
}

/// The engine's public meter over a render.
pub fn meter(audio: &Stereo) -> Measured {
    measure(audio).unwrap_or_else(|e| panic!("{e}"))
}

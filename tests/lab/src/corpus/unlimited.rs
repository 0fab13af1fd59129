//! Material that no limiter touched and that might look as if one had: low crest, few hits, equal
//! hits.

use super::drums::Drum::{HatClosed, HatPedal, Kick, Ride, Snare};
use super::process::compress::{self, Compressor};
use super::song::{Levels, Section, Song};
use super::songs::{BASE, COLD_FORGE, GRAVEL_ROAD, SHORT_FUSE, WASP_NEST};
use super::{CorpusError, Stereo, mix};

/// One piece of such material.
#[derive(Clone, Copy, Debug)]
pub struct Unlimited {
    /// Name for tables.
    pub name: &'static str,
    /// The song.
    pub song: Song,
    /// What is heard of it.
    pub take: Take,
}

/// What is heard of a song.
#[derive(Clone, Copy, Debug)]
pub enum Take {
    /// All of it.
    Mix,
    /// These buses only.
    Buses(&'static [&'static str]),
    /// All of it through a compressor with a slow attack.
    Compressed(Compressor),
}

/// All of it.
pub const ALL: &[Unlimited] = &[
    Unlimited { name: "pads", song: PADS, take: Take::Mix },
    Unlimited { name: "brushes", song: BRUSHES, take: Take::Mix },
    Unlimited { name: "brushes-alone", song: BRUSHES, take: Take::Buses(&["drums"]) },
    Unlimited { name: "guitars-rock", song: GRAVEL_ROAD, take: Take::Buses(GUITARS) },
    Unlimited { name: "guitars-metal", song: COLD_FORGE, take: Take::Buses(GUITARS) },
    Unlimited { name: "guitars-punk", song: SHORT_FUSE, take: Take::Buses(GUITARS) },
    Unlimited { name: "bass-dense", song: WASP_NEST, take: Take::Buses(&["bass"]) },
    Unlimited { name: "rock-compressed", song: GRAVEL_ROAD, take: BUS_COMPRESSED },
    Unlimited { name: "metal-compressed", song: COLD_FORGE, take: BUS_COMPRESSED },
    Unlimited { name: "dense-compressed", song: WASP_NEST, take: BUS_COMPRESSED },
];

const GUITARS: &[&str] = &["guitar-left", "guitar-right"];
const BUS_COMPRESSED: Take = Take::Compressed(compress::BUS);

impl Unlimited {
    /// Renders it; its largest sample is at -1 dBFS where the whole mix is heard.
    ///
    /// # Errors
    /// [`CorpusError`] as [`mix::render`].
    pub fn render(&self, rate: u32, library: &mut mix::Library) -> Result<Stereo, CorpusError> {
        let mix = mix::render(&self.song, rate, library)?;
        Ok(match self.take {
            Take::Mix => mix.audio,
            Take::Compressed(compressor) => compressor.run(&mix.audio),
            Take::Buses(names) => {
                let mut sum = Stereo::silence(rate, mix.audio.len());
                for name in names {
                    let bus = mix.buses.get(name).ok_or_else(|| {
                        CorpusError::Recipe(format!("{}: no bus {name}", self.song.name))
                    })?;
                    sum.add(bus, 0, 1.0, 1.0);
                }
                sum
            }
        })
    }
}

/// Strings and pad, no attack anywhere.
pub const PADS: Song = Song {
    name: "pads",
    tempo: 80.0,
    pad: 48,
    seed: 201,
    sections: &[Section {
        repeats: 2,
        chords: &[(36, false), (33, true), (29, false), (31, false)],
        pad: "C---------------",
        ..Section::REST
    }],
    ..BASE
};

/// Brushes, ride and upright bass, all soft.
pub const BRUSHES: Song = Song {
    name: "brushes",
    tempo: 96.0,
    steps: 3,
    kit: "gm-brush",
    bass: 32,
    dynamics: 0.12,
    loose_ms: 5.0,
    seed: 202,
    levels: Levels { clean: -22.0, bass: -20.0, drums: -21.0, ..Levels::ROUGH },
    sections: &[Section {
        repeats: 3,
        chords: &[(38, true), (31, false), (36, false), (33, false)],
        drums: &[
            (Kick, "o.....o....."),
            (Snare, "o.oo.oo.oo.o"),
            (Ride, "x..x.xx..x.x"),
            (HatPedal, "...x.....x.."),
            (HatClosed, "............"),
        ],
        bass: "R--F--O--F--",
        clean: "C-----..C...",
        ..Section::REST
    }],
    ..BASE
};

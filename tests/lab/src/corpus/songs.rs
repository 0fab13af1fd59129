//! The songs, all our own.

mod base;
mod held_out;

pub use base::BASE;
pub use held_out::{GRID_NINE, LATE_TRAIN, SHORT_FUSE, WASP_NEST};

use super::drums::Drum;
use super::song::{Levels, Section, Song};

use base::{SNARE_FILL, TOM_FILL};

use Drum::{Clap, Cowbell, Crash, HatClosed, HatOpen, Kick, Ride, Snare, TomLow};

/// Songs that no fit may see, nor their kits: played and programmed, dense and sparse.
pub const HELD_OUT: [&str; 4] = ["late-train", "wasp-nest", "grid-nine", "short-fuse"];

/// All songs.
pub const ALL: &[Song] = &[
    GRAVEL_ROAD,
    COLD_FORGE,
    SHORT_FUSE,
    BRASS_KEYS,
    LATE_TRAIN,
    GRID_NINE,
    SLOW_TIDE,
    BARREL_SHUFFLE,
    WASP_NEST,
    OPEN_FIELD,
    NIGHT_SHIFT,
    SALT_ENGINE,
];

/// A song by its name.
#[must_use]
pub fn by_name(name: &str) -> Option<Song> {
    ALL.iter().copied().find(|s| s.name == name)
}

/// Straight rock, 118.
pub const GRAVEL_ROAD: Song = Song {
    name: "gravel-road",
    tempo: 118.0,
    kit: "millo3",
    seed: 101,
    sections: &[
        Section {
            repeats: 1,
            chords: &[(28, true), (31, false), (33, false), (28, true)],
            drums: &[
                (Kick, "X.....x.X......."),
                (Snare, "....X.......X..."),
                (HatClosed, "X.x.X.x.X.x.X.x."),
            ],
            fill: SNARE_FILL,
            crash: true,
            bass: "R-R-R-R-R-R-R-R-",
            guitars: "P-------P---P---",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(36, false), (31, false), (33, false), (33, false)],
            drums: &[
                (Kick, "X..x....X.x....."),
                (Snare, "....X.......X..o"),
                (Ride, "X.x.X.x.X.x.X.x."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R-R-R-R-R-R-F-O-",
            guitars: "P---P---P---P---",
            organ: "C---------------",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(28, true), (31, false), (33, false), (28, true)],
            drums: &[
                (Kick, "X.....x.X......."),
                (Snare, "....X.......X..."),
                (HatOpen, "X...X...X...X..."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R-R-R-R-R-R-R-R-",
            guitars: "P-------P---P---",
            clean: "R.F.O.F.R.F.O.F.",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Metal with palm mutes and double kick, 168.
pub const COLD_FORGE: Song = Song {
    name: "cold-forge",
    tempo: 168.0,
    kit: "forzee",
    bass: 34,
    drive_db: 34.0,
    dynamics: 0.03,
    loose_ms: 2.0,
    seed: 102,
    sections: &[
        Section {
            repeats: 2,
            chords: &[(28, true), (28, true), (29, false), (31, false)],
            drums: &[
                (Kick, "X.xxX.xxX.xxX.xx"),
                (Snare, "....X.......X..."),
                (HatOpen, "X...X...X...X..."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R.RRR.RRR.RRR.RR",
            guitars: "m.mmm.mmm.mmP---",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(33, true), (29, false), (31, false), (28, true)],
            drums: &[
                (Kick, "XxXxXxXxXxXxXxXx"),
                (Snare, "........X......."),
                (Crash, "X..............."),
                (Ride, "..x.x.x.x.x.x.x."),
            ],
            fill: SNARE_FILL,
            crash: false,
            bass: "RRRRRRRRRRRRRRRR",
            guitars: "P-------P-------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Funk with ghost notes, 104.
pub const BRASS_KEYS: Song = Song {
    name: "brass-keys",
    tempo: 104.0,
    kit: "pacific",
    bass: 36,
    dynamics: 0.08,
    loose_ms: 3.0,
    seed: 104,
    levels: Levels { clean: -23.0, bass: -19.5, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 2,
            chords: &[(28, true), (28, true), (33, false), (28, true)],
            drums: &[
                (Kick, "X..x..x...x..x.."),
                (Snare, "....X..o.o..X..o"),
                (HatClosed, "XxxxXxxxXxxxXxxx"),
            ],
            fill: SNARE_FILL,
            crash: true,
            bass: "R..R.OR...R.F.R.",
            clean: "..C...C..C....C.",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(31, false), (33, false), (36, false), (35, true)],
            drums: &[
                (Kick, "X.....x...x....."),
                (Snare, "....X..o....X.o."),
                (HatClosed, "x.x.x...x.x.x.x."),
                (HatOpen, "......x........."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R-----R-..R-F-O-",
            clean: "C..C..C.C..C..C.",
            organ: "C-------C-------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Half-time, 140, heavy and open.
pub const SLOW_TIDE: Song = Song {
    name: "slow-tide",
    tempo: 140.0,
    kit: "red-zeppelin",
    drive_db: 30.0,
    loose_ms: 4.0,
    seed: 107,
    sections: &[
        Section {
            repeats: 2,
            chords: &[(26, true), (26, true), (29, false), (24, false)],
            drums: &[
                (Kick, "X.....X.....x..."),
                (Snare, "........X......."),
                (Crash, "X...............................X..............................."),
                (HatOpen, "....x...x...x..."),
            ],
            fill: TOM_FILL,
            bass: "R-----R-----R---",
            guitars: "P-----P-----P---",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(29, false), (24, false), (26, true), (26, true)],
            drums: &[
                (Kick, "X..X......X....."),
                (Snare, "........X......."),
                (HatClosed, "X...x...X...x..."),
            ],
            fill: SNARE_FILL,
            crash: true,
            bass: "R--R------R-----",
            guitars: "m..m......P-----",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Shuffle in triplets, 112.
pub const BARREL_SHUFFLE: Song = Song {
    name: "barrel-shuffle",
    tempo: 112.0,
    steps: 3,
    kit: "millo2",
    dynamics: 0.09,
    loose_ms: 4.0,
    seed: 108,
    levels: Levels { organ: -25.0, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 1,
            chords: &[(33, false), (33, false), (38, false), (33, false), (40, false), (38, false)],
            drums: &[(Kick, "X....xX....."), (Snare, "...X....oX.o"), (HatClosed, "X.xX.xX.xX.x")],
            fill: &[(Kick, "X.....X....."), (Snare, "...X.xXxxXxx"), (TomLow, "..........xX")],
            crash: true,
            bass: "R-RF-FO-OF-F",
            clean: "..C..C..C..C",
            organ: "C-----C-----",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(38, false), (38, false), (33, false), (33, false), (40, false), (33, false)],
            drums: &[(Kick, "X....xX.x..."), (Snare, "...X.....X.."), (Ride, "X.xX.xX.xX.x")],
            fill: &[(Kick, "X.....X....."), (Snare, "x.xX.xxxxXXX")],
            crash: true,
            bass: "R-RF-FO-OF-F",
            guitars: "P-mP-mP-mP-m",
            organ: "C-----------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Sparse, 92.
pub const OPEN_FIELD: Song = Song {
    name: "open-field",
    tempo: 92.0,
    kit: "gm-room",
    bass: 32,
    pad: 48,
    dynamics: 0.12,
    loose_ms: 6.0,
    seed: 110,
    levels: Levels { pad: -24.0, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 1,
            chords: &[(31, false), (36, false), (28, true), (38, false)],
            drums: &[(Kick, "X..............."), (Snare, "........x.......")],
            bass: "R---------------",
            pad: "C---------------",
            clean: "R---F---O---F---",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(31, false), (36, false), (28, true), (38, false)],
            drums: &[
                (Kick, "X.........x....."),
                (Snare, "....X.......X..."),
                (Cowbell, "........x......."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R-------R-------",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Slow machine beat, 88, long low kick.
pub const NIGHT_SHIFT: Song = Song {
    name: "night-shift",
    tempo: 88.0,
    kit: "gm-808",
    bass: 39,
    pad: 89,
    dynamics: 0.0,
    loose_ms: 0.0,
    limbs_ms: 0.0,
    seed: 111,
    levels: Levels { pad: -25.0, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 2,
            chords: &[(29, true), (27, false), (32, false), (31, false)],
            drums: &[
                (Kick, "X.....X..X......"),
                (Clap, "....X.......X..."),
                (HatClosed, "X.X.X.X.X.XXX.X.X.X.X.X.XXX.X.XX"),
            ],
            bass: "R-----R--R------",
            pad: "C---------------",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(29, true), (27, false)],
            drums: &[
                (Kick, "X.....X..X....X."),
                (Snare, "....X.......X..."),
                (HatClosed, "X.XXX.X.X.X.X.XX"),
                (Cowbell, "..X...X...X..X.."),
            ],
            bass: "R-----R--R----O-",
            clean: "O.F.R.F.O.F.R.F.",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Machine-like industrial metal, 124, programmed and equal.
pub const SALT_ENGINE: Song = Song {
    name: "salt-engine",
    tempo: 124.0,
    kit: "hard-electro",
    bass: 38,
    drive_db: 36.0,
    dynamics: 0.0,
    loose_ms: 0.0,
    limbs_ms: 0.0,
    seed: 112,
    sections: &[
        Section {
            repeats: 2,
            chords: &[(26, true), (26, true), (27, false), (26, true)],
            drums: &[
                (Kick, "X..X..X.X..X..X."),
                (Snare, "....X.......X..."),
                (HatClosed, "X.X.X.X.X.X.X.X."),
            ],
            fill: &[(Kick, "X...X...X.X.XXXX"), (Snare, "....X.......X.X.")],
            bass: "R..R..R.R..R..R.",
            guitars: "m..m..m.m..m..P-",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(31, true), (27, false), (29, false)],
            drums: &[
                (Kick, "X...X...X...X..."),
                (Snare, "....X.......X..."),
                (HatOpen, "..X...X...X...X."),
            ],
            bass: "RRRRRRRRRRRRRRRR",
            guitars: "P-------P-------",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

//! The songs that no fit has seen.

use super::base::{BASE, SNARE_FILL, TOM_FILL};
use crate::corpus::drums::Drum::{
    Clap, Crash, HatClosed, HatOpen, Kick, Ride, SideStick, Snare, TomLow, TomMid,
};
use crate::corpus::song::{Levels, Section, Song};

/// Ballad, 82, side-stick then backbeat.
pub const LATE_TRAIN: Song = Song {
    name: "late-train",
    tempo: 82.0,
    kit: "black-pearl",
    dynamics: 0.1,
    loose_ms: 5.0,
    seed: 105,
    levels: Levels { pad: -24.0, clean: -23.0, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 1,
            chords: &[(36, false), (33, true), (29, false), (31, false)],
            drums: &[
                (Kick, "X.........x....."),
                (SideStick, "....x.......x..."),
                (HatClosed, "x.x.x.x.x.x.x.x."),
            ],
            fill: SNARE_FILL,
            bass: "R---------R-----",
            clean: "R.F.O.F.R.F.O.F.",
            pad: "C---------------",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(29, false), (31, false), (36, false), (33, true)],
            drums: &[
                (Kick, "X......xX......."),
                (Snare, "....X.......X..."),
                (Ride, "X.x.X.x.X.x.X.x."),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "R-------R---F---",
            clean: "C---.---C---.---",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Dense sixteenths everywhere, 132.
pub const WASP_NEST: Song = Song {
    name: "wasp-nest",
    tempo: 132.0,
    kit: "gm-power",
    bass: 34,
    drive_db: 30.0,
    dynamics: 0.07,
    loose_ms: 3.0,
    seed: 109,
    sections: &[
        Section {
            repeats: 2,
            chords: &[(31, true), (34, false), (29, false), (31, true)],
            drums: &[
                (Kick, "X.xX..x.X.xX..xx"),
                (Snare, "....X..x....X.o."),
                (HatClosed, "XxxxXxxxXxxxXxxx"),
            ],
            fill: TOM_FILL,
            crash: true,
            bass: "RRRRRRRRRRRRRRRR",
            guitars: "PmmPmmPmmPmmPmPm",
            clean: "ROFOROFOROFOROFO",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(27, false), (29, false), (31, true), (31, true)],
            drums: &[
                (Kick, "X.xxX.xxX.xxX.xx"),
                (TomLow, "..X...X...X...X."),
                (TomMid, "....x.......x..."),
                (Snare, "....X.......X..."),
            ],
            fill: SNARE_FILL,
            crash: true,
            bass: "R-RRR-RRR-RRR-RR",
            guitars: "P-------P-------",
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Electronic, 126: a machine, every hit of one kind equal.
pub const GRID_NINE: Song = Song {
    name: "grid-nine",
    tempo: 126.0,
    kit: "electric-empire",
    bass: 38,
    pad: 90,
    dynamics: 0.0,
    loose_ms: 0.0,
    limbs_ms: 0.0,
    seed: 106,
    levels: Levels { pad: -24.0, ..Levels::ROUGH },
    sections: &[
        Section {
            repeats: 1,
            chords: &[(33, true), (33, true), (29, false), (31, false)],
            drums: &[(Kick, "X...X...X...X..."), (HatOpen, "..X...X...X...X.")],
            bass: "..R...R...R...R.",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(33, true), (33, true), (29, false), (31, false)],
            drums: &[
                (Kick, "X...X...X...X..."),
                (Clap, "....X.......X..."),
                (HatClosed, "X.X.X.X.X.X.X.X."),
                (HatOpen, "..X...X...X...X."),
            ],
            bass: "..RR..RO..RR..RF",
            pad: "C---------------",
            ..Section::REST
        },
        Section {
            repeats: 1,
            chords: &[(33, true), (33, true), (29, false), (31, false)],
            drums: &[(Clap, "....X.......X..."), (HatClosed, "XXXXXXXXXXXXXXXX")],
            fill: &[(Snare, "X.X.X.X.XXXXXXXX")],
            pad: "C---------------",
            ..Section::REST
        },
    ],
    ..BASE
};

/// Punk, 186.
pub const SHORT_FUSE: Song = Song {
    name: "short-fuse",
    tempo: 186.0,
    kit: "pearl",
    bass: 34,
    drive_db: 28.0,
    dynamics: 0.08,
    loose_ms: 5.0,
    seed: 103,
    sections: &[
        Section {
            repeats: 3,
            chords: &[(33, false), (38, false), (40, false), (38, false)],
            drums: &[
                (Kick, "X...X.X.X...X..."),
                (Snare, "..X...X...X...X."),
                (HatOpen, "X.x.X.x.X.x.X.x."),
            ],
            fill: SNARE_FILL,
            crash: true,
            bass: "R-R-R-R-R-R-R-R-",
            guitars: "P-P-P-P-P-P-P-P-",
            ..Section::REST
        },
        Section {
            repeats: 2,
            chords: &[(35, true), (38, false), (33, false), (40, false)],
            drums: &[
                (Kick, "X.....x.X......."),
                (Snare, "....X.......X..."),
                (Crash, "X.......x......."),
            ],
            fill: TOM_FILL,
            crash: false,
            bass: "R---R---R---R---",
            guitars: "P-------P-------",
            ..Section::REST
        },
    ],
    ..BASE
};

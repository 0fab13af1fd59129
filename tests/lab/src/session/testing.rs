//! Sessions for the tests: other kits, font programs, strings, riffs, tempos and seeds than those
//! of [`super::tuning`] and [`super::drawn`].

use super::plan::{Layer, Plan, Sound};
use super::strings::Voice;
use crate::corpus::drums::Drum::{
    Crash, HatClosed, HatOpen, Kick, Ride, SideStick, Snare, TomHigh, TomLow,
};

/// All sessions.
#[must_use]
pub fn all() -> Vec<Plan> {
    vec![
        blue_crane(),
        iron_ferry(),
        paper_lamp(),
        loose_gravel(),
        deep_quarry(),
        quick_hare(),
        amber_field(),
    ]
}

/// An instrument of another make than those used for tuning.
pub(super) const BRIGHT: Voice =
    Voice { decay_s: 3.5, dull: 0.18, pick_hz: 7_500.0, place: 0.09, scrape: 0.3, strum_s: 0.0015 };
/// A darker one.
pub(super) const DARK: Voice =
    Voice { decay_s: 2.5, dull: 0.4, pick_hz: 3_200.0, place: 0.16, scrape: 0.12, strum_s: 0.003 };
/// A bass with worn strings.
pub(super) const WORN_BASS: Voice =
    Voice { decay_s: 2.0, dull: 0.55, pick_hz: 1_000.0, place: 0.2, scrape: 0.03, strum_s: 0.0 };

/// Rock with doubled power chords, 116.
fn blue_crane() -> Plan {
    Plan {
        name: "blue-crane",
        tempo: 116.0,
        steps: 4,
        beats: 4,
        bars: 12,
        chords: vec![(33, false), (31, false), (38, false), (28, true)],
        seed: 601,
        layers: vec![
            Layer::drums(
                "pearl",
                &[
                    (Kick, "X..x....X.x....."),
                    (Snare, "....X.......X..."),
                    (HatClosed, "X.x.X.x.X.x.X.x."),
                ],
            ),
            Layer::bass(Sound::Font(34, 0), "R-RR-R-RR-R-R-F-"),
            Layer::guitar("guitar-left", Sound::Font(26, 12), "P--P--P-P--P-m-m", 30.0)
                .panned(-0.9),
            Layer::guitar("guitar-right", Sound::Font(24, 12), "P--P--P-P--P-m-m", 27.0)
                .panned(0.9),
            Layer::vocals(53, "....R---F-----.."),
        ],
    }
}

/// Metal chugs with rests, 138.
fn iron_ferry() -> Plan {
    Plan {
        name: "iron-ferry",
        tempo: 138.0,
        steps: 4,
        beats: 4,
        bars: 14,
        chords: vec![(27, true), (27, true), (30, false), (25, true)],
        seed: 602,
        layers: vec![
            Layer::drums(
                "black-pearl",
                &[
                    (Kick, "X.XX.XX.X.XX.XX."),
                    (Snare, "....X.......X..."),
                    (Crash, "X..............."),
                    (HatClosed, "x...x...x...x..."),
                ],
            ),
            Layer::bass(Sound::Strings(WORN_BASS, 0), "R.RR.RR.R.RR.RR."),
            Layer::guitar("guitar-left", Sound::Strings(BRIGHT, 12), "m.mm.mm.M.mm.mm.", 36.0)
                .panned(-1.0),
            Layer::guitar("guitar-right", Sound::Strings(DARK, 12), "m.mm.mm.M.mm.mm.", 38.0)
                .panned(1.0),
        ],
    }
}

/// Folk pop: picked and strummed clean guitars, 96.
fn paper_lamp() -> Plan {
    Plan {
        name: "paper-lamp",
        tempo: 96.0,
        steps: 4,
        beats: 4,
        bars: 10,
        chords: vec![(36, false), (31, false), (33, true), (29, false)],
        seed: 603,
        layers: vec![
            Layer::drums(
                "gm-room",
                &[
                    (Kick, "X.....x.X......."),
                    (SideStick, "....X.......X..."),
                    (HatClosed, "x.x.x.x.x.x.x.x."),
                ],
            ),
            Layer::bass(Sound::Font(32, 0), "R-----R-F-----F-"),
            Layer::clean("arpeggio", Sound::Strings(DARK, 24), "R.F.T.O.T.F.R.F.").ringing(),
            Layer::clean("strum", Sound::Font(24, 12), "C---C---C-C-C---"),
            Layer::vocals(53, "R-------T---F---"),
        ],
    }
}

/// Punk with open chords, 176.
fn loose_gravel() -> Plan {
    Plan {
        name: "loose-gravel",
        tempo: 176.0,
        steps: 4,
        beats: 4,
        bars: 16,
        chords: vec![(31, false), (36, false), (38, false), (33, true)],
        seed: 604,
        layers: vec![
            Layer::drums(
                "millo3",
                &[
                    (Kick, "X.....X.X.X....."),
                    (Snare, "....X.......X..."),
                    (HatOpen, "X...X...X...X..."),
                ],
            ),
            Layer::bass(Sound::Font(34, 0), "R-R-R-R-R-R-F-F-"),
            Layer::guitar("guitar-left", Sound::Strings(DARK, 12), "P-P-P-P-P-P-P-P-", 24.0)
                .panned(-0.8),
            Layer::guitar("guitar-right", Sound::Font(26, 12), "P-P-P-P-P-P-P-P-", 32.0)
                .panned(0.8),
        ],
    }
}

/// Slow doom in triplets, 76.
fn deep_quarry() -> Plan {
    Plan {
        name: "deep-quarry",
        tempo: 76.0,
        steps: 3,
        beats: 4,
        bars: 9,
        chords: vec![(24, true), (27, false), (22, false), (29, true)],
        seed: 605,
        layers: vec![
            Layer::drums(
                "gm-power",
                &[
                    (Kick, "X..X..X.XX.."),
                    (Snare, "...X.....X.."),
                    (TomLow, ".....x.....x"),
                    (TomHigh, "..x........."),
                ],
            ),
            Layer::bass(Sound::Font(34, 0), "R--R--R-RR-R"),
            Layer::guitar("guitar-left", Sound::Font(24, 12), "P--m-mP-mm-m", 34.0).panned(-0.9),
            Layer::guitar("guitar-right", Sound::Strings(BRIGHT, 12), "P--m-mP-mm-m", 32.0)
                .panned(0.9),
        ],
    }
}

/// Fast funk on clean strings, 112.
fn quick_hare() -> Plan {
    Plan {
        name: "quick-hare",
        tempo: 112.0,
        steps: 4,
        beats: 4,
        bars: 12,
        chords: vec![(33, true), (38, false), (36, false), (31, false)],
        seed: 606,
        layers: vec![
            Layer::drums(
                "electric-empire",
                &[
                    (Kick, "X..X..X...X..X.."),
                    (Snare, "....X..o.o..X..o"),
                    (HatClosed, "XxxxXxxxXxxxXxxx"),
                ],
            ),
            Layer::bass(Sound::Strings(WORN_BASS, 0), "R..R..O-..F..R.."),
            Layer::clean("scratch", Sound::Strings(BRIGHT, 24), "..C.C.C-..C.C.C-"),
            Layer::clean("line", Sound::Font(24, 24), "R.R.F-..R.O.F-.."),
        ],
    }
}

/// Stoner rock with a single saturated riff, 128.
fn amber_field() -> Plan {
    Plan {
        name: "amber-field",
        tempo: 128.0,
        steps: 4,
        beats: 4,
        bars: 12,
        chords: vec![(29, true), (32, false), (27, false), (34, false)],
        seed: 607,
        layers: vec![
            Layer::drums(
                "hard-electro",
                &[
                    (Kick, "X.x...x.X.x....."),
                    (Snare, "....X.......X..."),
                    (Ride, "X.x.X.x.X.x.X.x."),
                ],
            ),
            Layer::bass(Sound::Font(32, 0), "R.R-..R.R.R-.F-."),
            Layer::guitar("riff", Sound::Strings(DARK, 12), "m.m-..P.m.m-.P-.", 26.0),
            Layer::pad("organ", 16, "C---------------"),
            Layer::vocals(53, "R---....T---...."),
        ],
    }
}

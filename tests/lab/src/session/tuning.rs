//! Sessions for tuning the part measurements. No test may use them: see [`super::testing`].

use super::plan::{Layer, Plan, Sound};
use super::strings::Voice;
use crate::corpus::drums::Drum::{HatClosed, HatOpen, Kick, Ride, Snare, TomLow, TomMid};

/// All sessions.
#[must_use]
pub fn all() -> Vec<Plan> {
    vec![rail_yard(), ash_mill(), copper_wire(), tin_roof(), long_ditch(), split_oak()]
}

/// Straight rock with power chords in eighths, 122.
fn rail_yard() -> Plan {
    Plan {
        name: "rail-yard",
        tempo: 122.0,
        steps: 4,
        beats: 4,
        bars: 12,
        chords: vec![(28, true), (31, false), (33, false), (36, false)],
        seed: 501,
        layers: vec![
            Layer::drums(
                "pacific",
                &[
                    (Kick, "X.....X.X.X....."),
                    (Snare, "....X.......X..."),
                    (HatClosed, "X.x.X.x.X.x.X.x."),
                ],
            ),
            Layer::bass(Sound::Font(33, 0), "R-R-R-R-R-R-R-F-"),
            Layer::guitar("guitar-left", Sound::Font(27, 12), "P-m-P-m-P-m-P-P-", 28.0)
                .panned(-0.9),
            Layer::guitar("guitar-right", Sound::Font(26, 12), "P-m-P-m-P-m-P-P-", 26.0)
                .panned(0.9),
            Layer::vocals(53, "..R---F---......"),
        ],
    }
}

/// Metal: palm-muted sixteenths under double kick, 150.
fn ash_mill() -> Plan {
    Plan {
        name: "ash-mill",
        tempo: 150.0,
        steps: 4,
        beats: 4,
        bars: 14,
        chords: vec![(28, true), (28, true), (29, false), (31, true)],
        seed: 502,
        layers: vec![
            Layer::drums(
                "red-zeppelin",
                &[
                    (Kick, "X.xxX.xxX.xxX.xx"),
                    (Snare, "....X.......X..."),
                    (Ride, "X...X...X...X..."),
                ],
            ),
            Layer::bass(Sound::Strings(Voice::PICK_BASS, 0), "R.RRR.RRR.RRR.RR"),
            Layer::guitar(
                "guitar-left",
                Sound::Strings(Voice::PICKED, 12),
                "m.mmm.mmm.mmP---",
                34.0,
            )
            .panned(-1.0),
            Layer::guitar(
                "guitar-right",
                Sound::Strings(Voice::PICKED, 12),
                "m.mmm.mmm.mmP---",
                36.0,
            )
            .panned(1.0),
        ],
    }
}

/// Pop with clean guitars, arpeggios and strums, 104.
fn copper_wire() -> Plan {
    Plan {
        name: "copper-wire",
        tempo: 104.0,
        steps: 4,
        beats: 4,
        bars: 10,
        chords: vec![(33, true), (29, false), (36, false), (31, false)],
        seed: 503,
        layers: vec![
            Layer::drums(
                "gm-standard",
                &[
                    (Kick, "X.......X.x....."),
                    (Snare, "....X.......X..."),
                    (HatClosed, "x.x.x.x.x.x.x.x."),
                ],
            ),
            Layer::bass(Sound::Font(33, 0), "R-------R-R---F-"),
            Layer::clean("arpeggio", Sound::Font(27, 24), "R.T.F.O.F.T.R.T.").ringing(),
            Layer::clean("strum", Sound::Font(25, 12), "C---C-C---C-C-C-"),
            Layer::vocals(52, "R-----F-----O---"),
        ],
    }
}

/// Punk: open chords, 168.
fn tin_roof() -> Plan {
    Plan {
        name: "tin-roof",
        tempo: 168.0,
        steps: 4,
        beats: 4,
        bars: 14,
        chords: vec![(33, false), (38, false), (40, false), (38, false)],
        seed: 504,
        layers: vec![
            Layer::drums(
                "millo2",
                &[
                    (Kick, "X...X.X.X...X.X."),
                    (Snare, "..X...X...X...X."),
                    (HatOpen, "X...X...X...X..."),
                ],
            ),
            Layer::bass(Sound::Font(34, 0), "R-R-R-R-R-R-R-R-"),
            Layer::guitar(
                "guitar-left",
                Sound::Strings(Voice::PICKED, 12),
                "P-P-P-P-P-P-P-P-",
                22.0,
            )
            .panned(-0.8),
            Layer::guitar("guitar-right", Sound::Font(27, 12), "P-P-P-P-P-P-P-P-", 30.0)
                .panned(0.8),
        ],
    }
}

/// Slow and heavy, triplets, 84.
fn long_ditch() -> Plan {
    Plan {
        name: "long-ditch",
        tempo: 84.0,
        steps: 3,
        beats: 4,
        bars: 10,
        chords: vec![(26, true), (29, false), (24, false), (31, true)],
        seed: 505,
        layers: vec![
            Layer::drums(
                "forzee",
                &[
                    (Kick, "X..X.XX..X.."),
                    (Snare, "...X.....X.."),
                    (TomLow, "..x.....x..."),
                    (TomMid, ".....x......"),
                ],
            ),
            Layer::bass(Sound::Strings(Voice::FINGER_BASS, 0), "R-RR-RR-RR-F"),
            Layer::guitar("guitar-left", Sound::Strings(Voice::PICKED, 12), "P-mm-mP-mm-m", 30.0)
                .panned(-0.9),
            Layer::guitar("guitar-right", Sound::Font(27, 12), "P-mm-mP-mm-m", 34.0).panned(0.9),
        ],
    }
}

/// Picked clean strings and a walking bass, 132.
fn split_oak() -> Plan {
    Plan {
        name: "split-oak",
        tempo: 132.0,
        steps: 4,
        beats: 4,
        bars: 12,
        chords: vec![(31, false), (36, false), (33, true), (38, false)],
        seed: 506,
        layers: vec![
            Layer::drums(
                "sonic",
                &[
                    (Kick, "X...x...X...x..."),
                    (Snare, "....X..o....X..o"),
                    (Ride, "X.x.X.x.X.x.X.x."),
                ],
            ),
            Layer::bass(Sound::Strings(Voice::FINGER_BASS, 0), "R---F---O---F---"),
            Layer::clean("picking", Sound::Strings(Voice::SOFT, 24), "R.F.O.F.R.T.O.F.").ringing(),
            Layer::guitar("riff", Sound::Strings(Voice::SOFT, 12), "m.mmP-m.m.mmP-P-", 20.0),
            Layer::vocals(54, "R---....F---...."),
        ],
    }
}

//! What songs share: a song to start from, and fills.

use crate::corpus::drums::Drum::{self, HatClosed, Kick, Snare, TomHigh, TomLow, TomMid};
use crate::corpus::song::{Levels, Song};

/// What songs have in common unless they say otherwise.
pub const BASE: Song = Song {
    name: "",
    tempo: 120.0,
    steps: 4,
    beats: 4,
    kit: "sonic",
    bass: 33,
    pad: 89,
    drive_db: 24.0,
    dynamics: 0.06,
    loose_ms: 4.0,
    limbs_ms: 0.7,
    levels: Levels::ROUGH,
    seed: 1,
    sections: &[],
};

/// Roll round the toms, four beats of sixteenths.
pub(super) const TOM_FILL: &[(Drum, &str)] = &[
    (Kick, "X.......X......."),
    (Snare, "....X.xxXxx....."),
    (TomHigh, "...........xX..."),
    (TomMid, ".............xX."),
    (TomLow, "...............X"),
];
/// A roll on the snare.
pub(super) const SNARE_FILL: &[(Drum, &str)] =
    &[(Kick, "X.....x.X......."), (Snare, "....X...xoxxXxXX"), (HatClosed, "x.x.x.x.........")];

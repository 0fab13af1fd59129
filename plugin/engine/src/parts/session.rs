//! The parts of one song together, and what is read from them.

use super::PartTrack;
use crate::{PartLeak, Thresholds};

/// The tracks of one song, on one timeline and at one sample rate.
#[derive(Clone, Debug, Default)]
pub struct Session {
    /// The mix; `None` where the sum of the parts stands for it.
    pub mix: Option<PartTrack>,
    /// The parts.
    pub tracks: Vec<PartTrack>,
}

/// What the parts show. Each leak has its own file beside this one: `timing`, `clutter`, `drive`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartsReading {
    /// Parts that should hit together do not.
    pub timing: PartLeak,
    /// Other rhythms and sustained layers fill the space between hits.
    pub clutter: PartLeak,
    /// Too much gain on distorted guitars.
    pub drive: PartLeak,
    /// One row a part, in the order of [`Session::tracks`].
    pub rows: Vec<PartRow>,
}

/// The numbers of one part. `None` is *not known*.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartRow {
    /// Constant offset against the reference part, ms; positive: late.
    pub offset_ms: Option<f64>,
    /// Spread around that offset, ms, standard deviation.
    pub spread_ms: Option<f64>,
    /// Share of the shared events that come early, 0 to 1, of those further than the spread that
    /// cannot be told from none.
    pub early_share: Option<f64>,
    /// Events shared with the drums over events of either, 0 to 1.
    pub shared_onset_ratio: Option<f64>,
    /// How full the space between hits is, 0 to 1.
    pub sustain_ratio: Option<f64>,
    /// Drop of level from a note's attack to its sustained part, dB.
    pub attack_to_sustain_db: Option<f64>,
    /// What this part alone costs, dB of hit contrast.
    pub costs: PartCosts,
}

/// What one part costs through each leak, dB of hit contrast.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartCosts {
    /// Through its timing.
    pub timing_db: Option<f64>,
    /// Through what it plays between the hits.
    pub clutter_db: Option<f64>,
    /// Through its gain.
    pub drive_db: Option<f64>,
}

impl Session {
    /// Reads every leak that parts show. Allocates; not for the audio thread.
    #[must_use]
    pub fn read(&self, thresholds: &Thresholds) -> PartsReading {
        let _ = thresholds;
        PartsReading {
            rows: vec![PartRow::default(); self.tracks.len()],
            ..PartsReading::default()
        }
    }
}

//! The parts of one song together, and what is read from them.

use super::PartTrack;
use super::RoleSuggestion;
use super::clutter::{self, Clutter};
use super::cost::{Arrangement, Places, Strokes};
use super::drive::{self, Drive};
use super::timing::{self, TimingReading};
use crate::Thresholds;
use crate::thresholds::arrangement::LOWER_DB;

/// The tracks of one song, on one timeline and at one sample rate.
#[derive(Clone, Debug, Default)]
pub struct Session {
    /// The parts.
    pub tracks: Vec<PartTrack>,
}

/// What the parts show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartsReading {
    /// Parts that should hit together do not.
    pub timing: TimingReading,
    /// Other rhythms and sustained layers fill the space between hits.
    pub clutter: Clutter,
    /// Too much gain on distorted guitars.
    pub drive: Drive,
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
    /// Of the shared events further off than [`TELLABLE_MS`](super::timing::TELLABLE_MS) either
    /// way, the share that is early, 0 to 1.
    pub early_share: Option<f64>,
    /// Events shared with the drums over events of either, 0 to 1.
    pub shared_onset_ratio: Option<f64>,
    /// How full the space between hits is, 0 to 1.
    pub sustain_ratio: Option<f64>,
    /// Drop of level from a note's attack to its sustained part, dB.
    pub attack_to_sustain_db: Option<f64>,
    /// What this part alone costs, dB of hit contrast.
    pub costs: PartCosts,
    /// What the mix's hits gain when the part is muted, dB of contrast, median over hits; negative
    /// where it carries them. `None` with too few hits.
    pub if_muted_db: Option<f64>,
    /// The same when it is 3 dB lower ([`LOWER_DB`](crate::thresholds::arrangement::LOWER_DB)).
    pub if_3db_lower_db: Option<f64>,
    /// What it sounds like, whatever role it was given.
    pub suggested: Option<RoleSuggestion>,
}

/// What one part costs through each leak, dB of hit contrast.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct PartCosts {
    /// Through its timing.
    pub timing_db: Option<f64>,
    /// Through what it plays between the hits.
    pub clutter_db: Option<f64>,
    /// Through its gain.
    pub drive_db: Option<f64>,
}

impl Session {
    /// Reads every leak that parts show, without a mix. Allocates; not for the audio thread.
    #[must_use]
    pub fn read(&self, thresholds: &Thresholds) -> PartsReading {
        self.read_at(thresholds, &[])
    }

    /// The same with costs counted at the hits that the mix was found to have, as when they are measured
    /// on audio: `mix_hits`, frames on the timeline of the tracks, in order of time. Where they are too few,
    /// costs are counted at the parts' own.
    #[must_use]
    pub fn read_at(&self, thresholds: &Thresholds, mix_hits: &[i64]) -> PartsReading {
        let mut arrangement = Arrangement::new(&self.tracks);
        let places = self.places(&arrangement, mix_hits);
        let places = places.filter(|places| arrangement.count_at(places.clone()));
        let timing = timing::read(&self.tracks, thresholds, places.as_ref());
        let clutter = clutter::read(&arrangement, thresholds);
        let drive = drive::read(&arrangement, &self.tracks, thresholds);
        let lower = 10f32.powf(-LOWER_DB as f32 / 10.0);
        let rows = (0..self.tracks.len())
            .map(|part| {
                let deviation = timing.parts[part].as_ref();
                PartRow {
                    offset_ms: deviation.map(|d| d.offset_ms),
                    spread_ms: deviation.map(|d| d.spread_ms),
                    early_share: deviation.and_then(|d| d.early_share),
                    shared_onset_ratio: clutter.rows[part].shared_onset_ratio,
                    sustain_ratio: clutter.rows[part].sustain_ratio,
                    attack_to_sustain_db: drive.rows[part].drop_db(),
                    costs: PartCosts {
                        timing_db: timing.part_costs_db[part],
                        clutter_db: clutter.rows[part].cost.map(|cost| cost.db),
                        drive_db: drive.rows[part].cost.map(|cost| cost.db),
                    },
                    if_muted_db: arrangement.if_gained_db(part, 0.0),
                    if_3db_lower_db: arrangement.if_gained_db(part, lower),
                    suggested: RoleSuggestion::of(&self.tracks[part]),
                }
            })
            .collect();
        PartsReading { timing, clutter, drive, rows }
    }

    /// The hits of a mix on the timeline of the parts, with the main strokes of the drums, as
    /// [`remix`](super::remix) counts them.
    fn places(&self, arrangement: &Arrangement, mix_hits: &[i64]) -> Option<Places> {
        let track = self.tracks.first().filter(|_| !mix_hits.is_empty())?;
        let first = self.tracks.iter().map(|track| track.start_frame).min()?;
        let cell_frames = track.cell_frames.max(1) as u64;
        let end = arrangement.sum().len() as u64 * cell_frames;
        let hits = mix_hits.iter().filter_map(|hit| u64::try_from(hit - first).ok());
        let hits: Vec<u64> = hits.filter(|hit| *hit < end).collect();
        if hits.is_empty() {
            return None;
        }
        let strokes = Strokes::new(&hits, arrangement, track.sample_rate_hz);
        let cells = strokes.frames.iter().map(|frame| frame / cell_frames).collect();
        Some(Places { strokes: cells, counted: strokes.counted })
    }
}

//! A part in memory: its cells and onsets from start to end.

use wide::f32x4;

use super::{PartCell, PartMeter, PartOnset, PartRole, PartSink};
use crate::contrast::quantile;
use crate::thresholds::arrangement::{FAINT_DB, SILENT_PEAK};
use crate::{Config, ConfigError};

/// A part measured over a passage. Allocates; not for the audio thread.
///
/// Cell `n` covers the frames from `n * cell_frames` on, [`cell_frames`](Self::cell_frames) of
/// them, counted from `start_frame`. Tracks of one session have one sample rate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartTrack {
    /// What the part plays.
    pub role: PartRole,
    /// The part's name: its file, or the host's track.
    pub name: String,
    /// Sample rate, Hz.
    pub sample_rate_hz: f64,
    /// Frames of a cell: a millisecond, rounded to a multiple of four.
    pub cell_frames: usize,
    /// Frame of the session's timeline at which cell 0 starts.
    pub start_frame: i64,
    /// The cells, without a gap.
    pub cells: Vec<PartCell>,
    /// The onsets, in order of time, counted from the start of cell 0.
    pub onsets: Vec<PartOnset>,
    /// Left and right apart, where they are two takes and not one (see [`Self::measure`]); else
    /// empty. They have no sides of their own.
    pub sides: Vec<PartTrack>,
}

/// Normalised correlation of left and right under which they are two takes. Ours: a stereo
/// microphone pair or a panned source is well above, two takes of one riff are near 0.
const TWO_TAKES_CORRELATION: f64 = 0.5;
/// Power of the weaker side over that of the louder under which it is only bleed. Ours: -12 dB.
const BLEED_SHARE: f64 = 0.06;

impl PartTrack {
    /// The largest sample.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.cells.iter().fold(0.0f32, |peak, cell| peak.max(cell.peak))
    }

    /// Whether nothing in it reaches [`SILENT_PEAK`].
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.cells.iter().all(|cell| cell.peak < SILENT_PEAK)
    }

    /// Measures a part that lies in memory, one slice a channel. Slices are cut to the shortest.
    /// Where left and right are about equally loud and hardly alike, as double-tracked guitars
    /// panned apart, each is measured on its own too, into [`Self::sides`].
    ///
    /// # Errors
    /// [`ConfigError`] as from [`PartMeter::new`].
    pub fn measure(
        role: PartRole,
        name: &str,
        config: Config,
        planes: &[&[f32]],
    ) -> Result<Self, ConfigError> {
        let mut track = Self::whole(role, name, config, planes)?;
        if let [left, right] = planes
            && are_two_takes(left, right)
        {
            let mono = Config { channels: 1, ..config };
            for side in [left, right] {
                track.sides.push(Self::whole(role, name, mono, &[side])?);
            }
        }
        Ok(track)
    }

    fn whole(
        role: PartRole,
        name: &str,
        config: Config,
        planes: &[&[f32]],
    ) -> Result<Self, ConfigError> {
        let mut meter = PartMeter::new(config)?;
        let mut track = Self {
            role,
            name: name.to_owned(),
            sample_rate_hz: config.sample_rate_hz,
            cell_frames: meter.cell_frames(),
            ..Self::default()
        };
        meter.process(planes, &mut track);
        meter.finish(&mut track);
        Ok(track)
    }

    /// Length of a cell, s.
    #[must_use]
    pub fn cell_s(&self) -> f64 {
        self.cell_frames as f64 / self.sample_rate_hz
    }

    /// Length of the track, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.cells.len() as f64 * self.cell_s()
    }

    /// Time of an onset on the session's timeline, s.
    #[must_use]
    pub fn onset_time_s(&self, onset: &PartOnset) -> f64 {
        (self.start_frame as f64 + onset.frame as f64) / self.sample_rate_hz
    }

    /// The onsets that count as played, in order of time: all of drums; of other parts those within
    /// [`FAINT_DB`](crate::thresholds::arrangement::FAINT_DB) of the loud ones. A finger that touches
    /// the string ahead of a note is an onset too, and no note.
    pub fn strokes(&self) -> impl Iterator<Item = &PartOnset> {
        let mut levels: Vec<f64> = self.onsets.iter().map(|o| f64::from(o.level_lufs)).collect();
        levels.sort_by(f64::total_cmp);
        let least = if self.role == PartRole::Drums || levels.is_empty() {
            f64::NEG_INFINITY
        } else {
            quantile(&levels, 0.9) - FAINT_DB
        };
        self.onsets.iter().filter(move |onset| f64::from(onset.level_lufs) >= least)
    }

    /// Mean weighted power of the whole track, mean square summed over channels.
    #[must_use]
    pub fn power(&self) -> f64 {
        let sum: f64 = self.cells.iter().map(|cell| f64::from(cell.weighted)).sum();
        sum / self.cells.len().max(1) as f64
    }
}

/// Collects what a meter gives.
impl PartSink for PartTrack {
    fn cell(&mut self, cell: &PartCell) {
        self.cells.push(*cell);
    }

    fn onset(&mut self, onset: &PartOnset) {
        self.onsets.push(*onset);
    }
}

fn are_two_takes(left: &[f32], right: &[f32]) -> bool {
    let mut alike = Alikeness::default();
    alike.add(left, right);
    alike.are_two_takes()
}

/// How alike left and right of a part are: sums of squares and of products.
#[derive(Clone, Copy, Debug, Default)]
pub struct Alikeness {
    left: f64,
    right: f64,
    both: f64,
}

/// Frames that are added up in f32 before they are in f64. Ours: good to one in a million.
const RUN: usize = 64;

impl Alikeness {
    /// Adds two channels, cut to the shorter. Samples that are no numbers are left out.
    pub fn add(&mut self, left: &[f32], right: &[f32]) {
        let frames = left.len().min(right.len());
        for (left, right) in left[..frames].chunks(RUN).zip(right[..frames].chunks(RUN)) {
            let (fours, rest) = left.as_chunks();
            let (right_fours, right_rest) = right.as_chunks();
            let mut sums = [f32x4::ZERO; 3];
            for (l, r) in fours.iter().zip(right_fours) {
                let (l, r) = (f32x4::new(*l), f32x4::new(*r));
                for (sum, product) in sums.iter_mut().zip([l * l, r * r, l * r]) {
                    *sum += product;
                }
            }
            let sums = sums.map(f32x4::reduce_add);
            if sums.iter().all(|sum| sum.is_finite()) {
                let [left, right, both] = sums.map(f64::from);
                self.merge(&Self { left, right, both });
                self.add_each(rest, right_rest);
            } else {
                self.add_each(left, right);
            }
        }
    }

    fn add_each(&mut self, left: &[f32], right: &[f32]) {
        for (&l, &r) in left.iter().zip(right) {
            if l.is_finite() && r.is_finite() {
                let (l, r) = (f64::from(l), f64::from(r));
                self.left += l * l;
                self.right += r * r;
                self.both += l * r;
            }
        }
    }

    /// Adds what was added to another.
    pub fn merge(&mut self, other: &Self) {
        self.left += other.left;
        self.right += other.right;
        self.both += other.both;
    }

    /// Lets what was added so far count for `share` of what it did, from 0 to 1.
    pub fn fade(&mut self, share: f64) {
        for sum in [&mut self.left, &mut self.right, &mut self.both] {
            *sum *= share;
        }
    }

    /// Whether anything was heard.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.left + self.right <= 0.0
    }

    /// Whether both are about equally loud and hardly alike, as double-tracked guitars panned apart.
    /// Silence is not.
    #[must_use]
    pub fn are_two_takes(&self) -> bool {
        let (low, high) = (self.left.min(self.right), self.left.max(self.right));
        low > BLEED_SHARE * high
            && self.both.abs() < TWO_TAKES_CORRELATION * (self.left * self.right).sqrt()
    }
}

//! What every sample goes through: weights, bands and peaks. All of it hangs on the samples alone, so
//! it can be done ahead, on another thread.

use crate::bands::BandSplit;
use crate::cells::{Cell, MICRO};
use crate::input::Intake;
use crate::kweighting::{KWeighting, SmallSpeaker as SmallFilter};
use crate::tops::tops;
use crate::true_peak::TruePeak;
use crate::{Config, ConfigError, InputHealth, MAX_CHANNELS};

/// Frames of silence that bring the last samples through the true-peak interpolator.
const TAIL_FRAMES: usize = 12;
/// Most stretches of a cell: no hop is shorter than a cell.
const STRETCHES: usize = 2;

/// Frames of a cell: four whole micro-cells, as near to a millisecond as that allows.
pub(super) fn cell_frames(rate_hz: f64) -> usize {
    MICRO * ((rate_hz / (1e3 * MICRO as f64)).round() as usize).max(1)
}

/// Frames of a hop of ten milliseconds.
pub(super) fn hop_frames(rate_hz: f64) -> usize {
    (rate_hz / 100.0).round() as usize
}

/// The part of a cell that lies in one hop.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Stretch {
    /// Its end, frames from the start of the cell.
    pub(super) to: usize,
    /// Weighted sum of squares, over channels.
    pub(super) energy: f64,
    /// Largest true peak, linear.
    pub(super) true_peak: f32,
    /// Largest sample magnitude, linear.
    pub(super) sample_peak: f32,
}

/// A cell, and its stretches; where no hop ends within it, the second is empty.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Measured {
    /// Its bands are sums of squares still.
    pub(super) cell: Cell,
    pub(super) stretches: [Stretch; STRETCHES],
}

/// What each channel has of its own.
#[derive(Clone, Debug)]
struct Channel {
    weighting: KWeighting,
    peak: TruePeak,
}

/// The filters of a bus, and how far its hop is filled.
#[derive(Clone, Debug)]
pub(super) struct Front {
    channels: [Channel; MAX_CHANNELS],
    used: usize,
    split: BandSplit,
    small: SmallFilter,
    quarter: usize,
    hop_frames: usize,
    hop_filled: usize,
}

impl Front {
    pub(super) fn new(config: Config) -> Self {
        let rate = config.sample_rate_hz;
        Self {
            channels: std::array::from_fn(|_| Channel {
                weighting: KWeighting::new(rate),
                peak: TruePeak::new(),
            }),
            used: config.channels,
            split: BandSplit::new(rate),
            small: SmallFilter::new(rate),
            quarter: cell_frames(rate) / MICRO,
            hop_frames: hop_frames(rate),
            hop_filled: 0,
        }
    }

    /// Whether this rate carries a high band.
    pub(super) fn has_high(&self) -> bool {
        self.split.has_high()
    }

    /// Measures one cell, or what there is of the last one. A mono bus has silence on its right.
    pub(super) fn cell(&mut self, main: [&[f32]; MAX_CHANNELS]) -> Measured {
        let frames = main[0].len();
        let mut measured = Measured::default();
        let Measured { cell, stretches } = &mut measured;
        self.split.process(main, self.quarter, &mut cell.micro);
        // Hops need not end with cells: measure in stretches that cross no hop's end.
        let mut from = 0;
        for stretch in stretches {
            let to = frames.min(from + self.hop_frames - self.hop_filled);
            if to > from {
                *stretch = self.stretch(main.map(|samples| &samples[from..to]), cell);
                self.hop_filled += to - from;
            }
            stretch.to = to;
            if self.hop_filled == self.hop_frames {
                self.hop_filled = 0;
                self.flush_denormals();
            }
            from = to;
        }
        cell.weighted /= frames as f32;
        cell.small /= frames as f32;
        measured
    }

    /// Weights and peaks of a stretch.
    fn stretch(&mut self, main: [&[f32]; MAX_CHANNELS], cell: &mut Cell) -> Stretch {
        let small = &mut self.small;
        let used = &mut self.channels[..self.used];
        if let [left, right] = used {
            KWeighting::process_small_pair(&mut left.weighting, &mut right.weighting, small, main);
        } else if let [mono] = used {
            mono.weighting.process_small(small, main[0]);
        }
        let tops = tops(main);
        let sample_peak = tops.sides[0].max(tops.sides[1]);
        let mut stretch = Stretch { true_peak: sample_peak, sample_peak, ..Stretch::default() };
        for (channel, samples) in used.iter_mut().zip(main) {
            stretch.energy += channel.weighting.take_energy();
            stretch.true_peak = channel.peak.raise(samples, stretch.true_peak);
        }
        cell.weighted += stretch.energy as f32;
        cell.small += small.take_energy() as f32;
        cell.peak = cell.peak.max(stretch.true_peak);
        cell.sample_peak = cell.sample_peak.max(sample_peak);
        cell.flat_run = cell.flat_run.max(tops.flat);
        for (side, top) in cell.sides.iter_mut().zip(tops.sides) {
            *side = side.max(top);
        }
        stretch
    }

    /// The largest true peak of what the interpolators still hold, linear: they lag by half their
    /// length.
    pub(super) fn tail(&mut self) -> f32 {
        let used = self.channels[..self.used].iter_mut();
        used.fold(0.0, |peak, channel| channel.peak.process(&[0.0; TAIL_FRAMES]).inter.max(peak))
    }

    fn flush_denormals(&mut self) {
        for channel in &mut self.channels {
            channel.weighting.flush_denormals();
        }
        self.split.flush_denormals();
        self.small.flush_denormals();
    }

    pub(super) fn reset(&mut self) {
        for channel in &mut self.channels {
            channel.weighting.reset();
            channel.peak.reset();
        }
        self.split.reset();
        self.small.reset();
        self.hop_filled = 0;
    }
}

/// Does what every sample goes through ahead of a [`Meter`](super::Meter), so that a file is measured
/// on two threads. Takes the same blocks as the meter after it, from its start on.
#[derive(Debug)]
pub struct Ahead {
    front: Front,
    intake: Intake,
    /// Frames so far.
    frames: u64,
}

/// What [`Ahead`] made of a block.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// Where the block lies in the stream, frames.
    pub(super) frames: std::ops::Range<u64>,
    /// Its cells that are full.
    pub(super) cells: Vec<Measured>,
    /// The filters behind them.
    pub(super) front: Front,
}

impl Ahead {
    /// For a meter of the same `config`. Allocates.
    ///
    /// # Errors
    /// [`ConfigError`] when a field of `config` is out of range.
    pub fn new(config: Config) -> Result<Self, ConfigError> {
        config.validate()?;
        let intake = Intake::of_main(cell_frames(config.sample_rate_hz));
        Ok(Self { front: Front::new(config), intake, frames: 0 })
    }

    /// Measures one block, cut to channels and frames as [`Meter::process`](super::Meter::process)
    /// cuts it. Allocates.
    #[must_use]
    pub fn process(&mut self, main: &[&[f32]]) -> Prepared {
        let main = &main[..main.len().min(self.front.used)];
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut cells = Vec::with_capacity(frames / self.intake.capacity() + 1);
        let mut at = 0;
        while at < frames {
            at += self.intake.take(main, None, at, frames, &mut InputHealth::default());
            if self.intake.is_full() {
                cells.push(self.front.cell(self.intake.main(self.intake.capacity())));
                self.intake.clear();
            }
        }
        let from = self.frames;
        self.frames += frames as u64;
        Prepared { frames: from..self.frames, cells, front: self.front.clone() }
    }
}

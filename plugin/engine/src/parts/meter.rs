//! A stream of one part into cells and onsets.

use std::f64::consts::FRAC_1_SQRT_2;

use super::bank::{Bank, Quarters};
use super::evidence::OnsetEvidence;
use super::picker::{PartOnset, Picker};
use crate::bands::{BANDS, BandSplit};
use crate::cells::MICRO;
use crate::input::Intake;
use crate::kweighting::KWeighting;
use crate::true_peak::sample_peak;
use crate::{Config, ConfigError, InputHealth, MAX_CHANNELS};

/// What is kept of one millisecond of a part. Powers are mean squares.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartCell {
    /// K-weighted power, summed over channels (BS.1770-5).
    pub weighted: f32,
    /// K-weighted power of left and right apart; of a mono part the first alone.
    pub sides: [f32; MAX_CHANNELS],
    /// Mean of the K-weighted samples of left and right: the sound under 500 Hz, a sample a cell, so that
    /// the low ends of parts add up as waves and not as powers. Squared and summed it is that share of
    /// `weighted`, and what is left of that is the rest. A mono part is as loud on either side.
    pub lows: [f32; MAX_CHANNELS],
    /// Unweighted power of the low, mid and high band, summed over channels.
    pub bands: [f32; BANDS],
    /// Largest sample magnitude, linear.
    pub peak: f32,
}

/// Takes what a [`PartMeter`] gives, on the thread that calls it. On an audio thread an
/// implementation must not allocate, lock or block.
pub trait PartSink {
    /// The next cell, one a millisecond without a gap.
    fn cell(&mut self, cell: &PartCell) {
        let _ = cell;
    }

    /// An onset, in order of time, a fixed while after the cell that holds it.
    fn onset(&mut self, onset: &PartOnset) {
        let _ = onset;
    }

    /// The same of one channel alone, 0 or 1; see [`PartMeter::listen_to_sides`].
    fn side_onset(&mut self, side: usize, onset: &PartOnset) {
        let _ = (side, onset);
    }

    /// What spoke for and against an onset at the start of the cell of that number, of the moments
    /// that were judged: for the fit, and for who wants to see why.
    fn evidence(&mut self, cell: u64, evidence: &OnsetEvidence) {
        let _ = (cell, evidence);
    }
}

/// Drops everything.
impl PartSink for () {}

/// Measures one part: cells and onsets alone, so that many of them cost little.
///
/// Nothing after [`PartMeter::new`] allocates, locks or makes a system call. What it gives depends
/// on the samples alone, not on how they are cut into blocks.
#[derive(Debug)]
pub struct PartMeter {
    config: Config,
    intake: Intake,
    health: InputHealth,
    weighting: [KWeighting; MAX_CHANNELS],
    split: BandSplit,
    bank: Bank,
    picker: Picker,
    sides: Option<Sides>,
    cells: u64,
}

/// The onsets of left and right apart.
#[derive(Debug)]
struct Sides {
    pickers: [Picker; MAX_CHANNELS],
    /// Cell from which they are listened to; `None` while they are not.
    from: Option<u64>,
}

impl PartMeter {
    /// Builds a meter. Nothing after it allocates.
    ///
    /// # Errors
    /// [`ConfigError`] when a field of `config` is out of range.
    pub fn new(config: Config) -> Result<Self, ConfigError> {
        config.validate()?;
        let rate = config.sample_rate_hz;
        let cell_frames = MICRO * ((rate / (1e3 * MICRO as f64)).round() as usize).max(1);
        Ok(Self {
            config,
            intake: Intake::of_main(cell_frames),
            health: InputHealth::default(),
            weighting: std::array::from_fn(|_| KWeighting::new(rate)),
            split: BandSplit::new(rate),
            bank: Bank::new(rate),
            picker: Picker::new(rate, cell_frames),
            sides: None,
            cells: 0,
        })
    }

    /// Builds a meter that can also listen to left and right apart; with one channel it cannot.
    ///
    /// # Errors
    /// As of [`new`](Self::new).
    pub fn with_sides(config: Config) -> Result<Self, ConfigError> {
        let mut meter = Self::new(config)?;
        meter.sides = (config.channels == MAX_CHANNELS).then(|| {
            let picker = |_| Picker::new(config.sample_rate_hz, meter.cell_frames());
            Sides { pickers: std::array::from_fn(picker), from: None }
        });
        Ok(meter)
    }

    /// From the next cell on, finds the onsets of left and right apart too, or no longer. Those not
    /// certain yet are lost. Without effect unless built [`with_sides`](Self::with_sides).
    pub fn listen_to_sides(&mut self, listens: bool) {
        if let Some(sides) = &mut self.sides {
            if listens {
                sides.pickers.iter_mut().for_each(Picker::reset);
            }
            sides.from = listens.then_some(self.cells);
        }
    }

    /// Whether left and right are listened to apart.
    #[must_use]
    pub fn listens_to_sides(&self) -> bool {
        self.sides.as_ref().is_some_and(|sides| sides.from.is_some())
    }

    /// Judges each millisecond from now on, not every fourth and those beside likely onsets: three
    /// times the work, for the fit.
    pub fn judge_every_moment(&mut self) {
        self.picker.judge_every_moment();
    }

    /// What the meter was built for.
    #[must_use]
    pub fn config(&self) -> Config {
        self.config
    }

    /// Frames of a cell: a millisecond, rounded to a multiple of four.
    #[must_use]
    pub fn cell_frames(&self) -> usize {
        self.intake.capacity()
    }

    /// Samples that were no finite numbers since the last reset.
    #[must_use]
    pub fn health(&self) -> InputHealth {
        self.health
    }

    /// Measures one block: one slice a channel, all of one length. Extra channels and unequal
    /// lengths are cut to the shortest; missing channels count as silence.
    pub fn process(&mut self, block: &[&[f32]], sink: &mut dyn PartSink) {
        let block = &block[..block.len().min(self.config.channels)];
        let Some(frames) = block.iter().map(|channel| channel.len()).min() else { return };
        let mut at = 0;
        while at < frames {
            at += self.intake.take(block, None, at, frames, &mut self.health);
            if self.intake.is_full() {
                self.measure(sink);
            }
        }
    }

    /// Ends the passage: measures the last part of a millisecond and gives out what waits. Only
    /// [`Self::reset`] may follow.
    pub fn finish(&mut self, sink: &mut dyn PartSink) {
        if !self.intake.is_empty() {
            self.measure(sink);
        }
        self.picker.finish(&mut |onset| sink.onset(&onset));
        let cell_frames = self.cell_frames() as u64;
        if let Some(Sides { pickers, from: Some(from) }) = &mut self.sides {
            for (side, picker) in pickers.iter_mut().enumerate() {
                picker.finish(&mut |onset| {
                    sink.side_onset(side, &onset.later(*from * cell_frames, self.config));
                });
            }
        }
    }

    /// Forgets everything measured, as if just built.
    pub fn reset(&mut self) {
        self.intake.clear();
        self.health = InputHealth::default();
        self.weighting.iter_mut().for_each(KWeighting::reset);
        self.split.reset();
        self.bank.reset();
        self.picker.reset();
        self.cells = 0;
        self.listen_to_sides(false);
    }

    /// Measures the cell in the intake and empties it.
    fn measure(&mut self, sink: &mut dyn PartSink) {
        let frames = self.intake.frames();
        let main = self.intake.main(frames);
        let mut cell = PartCell::default();
        let channels = self.config.channels;
        let sums = if let [left, right] = &mut self.weighting[..channels] {
            KWeighting::process_pair_sums(left, right, main)
        } else {
            [self.weighting[0].process_sum(main[0]) * FRAC_1_SQRT_2; MAX_CHANNELS]
        };
        cell.lows = sums.map(|sum| (sum / frames as f64) as f32);
        for channel in 0..channels {
            let power = (self.weighting[channel].take_energy() / frames as f64) as f32;
            cell.sides[channel] = power;
            cell.weighted += power;
            cell.peak = cell.peak.max(sample_peak(main[channel]));
        }
        self.split.process(main, frames, std::slice::from_mut(&mut cell.bands));
        cell.bands = cell.bands.map(|energy| energy / frames as f32);
        sink.cell(&cell);
        let mut apart = [Quarters::default(); MAX_CHANNELS];
        let cell_frames = self.intake.capacity();
        let sides = self.sides.as_mut().and_then(|sides| Some((&mut sides.pickers, sides.from?)));
        let whole = self.bank.process(
            &main[..channels],
            cell_frames,
            sides.is_some().then_some(&mut apart),
        );
        let look = &mut |cell, evidence: &OnsetEvidence| sink.evidence(cell, evidence);
        if let Some(onset) = self.picker.cell(whole, cell.weighted, look) {
            sink.onset(&onset);
        }
        if let Some((pickers, from)) = sides {
            let before = from * cell_frames as u64;
            for (side, picker) in pickers.iter_mut().enumerate() {
                let onset = picker.cell(apart[side], cell.sides[side], &mut |_, _| {});
                if let Some(onset) = onset {
                    sink.side_onset(side, &onset.later(before, self.config));
                }
            }
        }
        self.intake.clear();
        self.cells += 1;
        // At fixed places of the stream, so that the cutting into blocks has no influence.
        if self.cells.is_multiple_of(10) {
            self.weighting.iter_mut().for_each(KWeighting::flush_denormals);
            self.split.flush_denormals();
            self.bank.flush_denormals();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    struct Cells(Vec<PartCell>);

    impl PartSink for Cells {
        fn cell(&mut self, cell: &PartCell) {
            self.0.push(*cell);
        }
    }

    /// The cells of a tone, the right side turned over, from the second half of a second.
    fn cells(hz: f64, channels: usize) -> Vec<PartCell> {
        let tone = |n: usize| (std::f64::consts::TAU * hz * n as f64 / RATE_HZ).sin() as f32;
        let left: Vec<f32> = (0..48_000).map(tone).collect();
        let right: Vec<f32> = left.iter().map(|x| -x).collect();
        let mut meter = PartMeter::new(Config { sample_rate_hz: RATE_HZ, channels }).expect("fine");
        let mut all = Cells(Vec::new());
        meter.process(&[&left[..], &right][..channels], &mut all);
        all.0.split_off(500)
    }

    /// Closed form: the mean of a sine over a millisecond is its sinc, of a whole number of periods nothing;
    /// the square of the lows is that share of the power, in mono as in stereo.
    #[test]
    fn lows_are_the_mean_of_each_millisecond() {
        for (hz, channels) in [(100.0, 2), (100.0, 1), (400.0, 2), (3_000.0, 2), (3_000.0, 1)] {
            let cells = cells(hz, channels);
            let sum = |of: fn(&PartCell) -> f32| cells.iter().map(of).sum::<f32>();
            let lows = sum(|cell| cell.lows.iter().map(|low| low * low).sum());
            let turn = std::f64::consts::PI * hz * 1e-3;
            let want = (turn.sin() / turn).powi(2);
            let share = f64::from(lows / sum(|cell| cell.weighted));
            assert!((share - want).abs() < 1e-3, "{hz} Hz, {channels}: {share} for {want}");
            let turned = if channels == 2 { -1.0 } else { 1.0 };
            assert!(cells.iter().all(|cell| (cell.lows[0] - turned * cell.lows[1]).abs() < 1e-6));
        }
    }
}

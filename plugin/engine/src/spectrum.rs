//! Long-term spectrum of a bus in third octaves.
//!
//! Narrow bands need long spectra and wide ones do not, so the bands are shared out among four
//! stages. Each takes spectra of one length from a stream of its own rate: the first from the bus
//! itself, the others from the bus brought down to a quarter of the stage before. The lowest stage
//! resolves 0.7 Hz, the first 47 Hz at 48 kHz.
//!
//! Spectra overlap by half, and the squares of their windows add up to one: each sample counts
//! once, wherever a hit falls. Both channels go through one complex transform, and their powers are
//! added. The work is spread: one windowing, one transform or one summing up a millisecond.

mod halve;
mod stage;
mod thirds;

use crate::MAX_CHANNELS;
use halve::Halver;
use stage::Stage;
pub(crate) use thirds::third_edge_hz;
pub use thirds::{THIRDS, third_hz};

/// Stages, the one for the highest bands first.
const STAGES: usize = 4;
/// First band of each stage: 1.25 kHz, 315 Hz, 80 Hz, 25 Hz.
const FIRST_BAND: [usize; STAGES] = [17, 11, 5, 0];
/// Lowest rate of the second stage, Hz: its highest band then ends at a tenth of the rate, which
/// keeps what folds back 70 dB down. Ours.
const SECOND_STAGE_HZ: f64 = 11_025.0;
/// Widest bin of the first stage, Hz: a twentieth of its lowest band. Ours: with it a tone inside
/// a band stays there, and one two octaves off leaves less than -70 dB.
const WIDEST_BIN_HZ: f64 = 47.0;
/// Most halvings of the rate ahead of the second stage: 384 kHz to 12 kHz.
const MOST_HALVINGS: usize = 5;
/// Cells whose frames go together down to the stages below the second. Ours: the few that each leaves
/// there cost less than the way.
const TOGETHER: u32 = 8;

/// Mean power spectrum of a bus since reset.
#[derive(Debug)]
pub(crate) struct LongTermSpectrum {
    stages: [Stage; STAGES],
    /// Halvings of the rate ahead of the second, third and fourth stage.
    halvers: [Vec<Halver>; STAGES - 1],
    /// One cell on its way down through the rates, frames interleaved.
    work: [Vec<f32>; 2],
    /// What the second stage has had and those below it have not, and from how many cells.
    waiting: Vec<f32>,
    cells: u32,
    /// Frames that the second stage has had since reset.
    passed: u64,
}

impl LongTermSpectrum {
    /// Plans the transforms and allocates. `cell_frames`: the most frames of one cell.
    pub(crate) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        let mut halvings = [0, 2, 2];
        let mut second_hz = rate_hz;
        while second_hz >= 2.0 * SECOND_STAGE_HZ && halvings[0] < MOST_HALVINGS {
            second_hz /= 2.0;
            halvings[0] += 1;
        }
        let rates = [rate_hz, second_hz, second_hz / 4.0, second_hz / 16.0];
        let room = || Vec::with_capacity(TOGETHER as usize * MAX_CHANNELS * cell_frames);
        Self {
            stages: std::array::from_fn(|stage| {
                let last = if stage == 0 { THIRDS } else { FIRST_BAND[stage - 1] };
                let widest = WIDEST_BIN_HZ / [1.0, 4.0, 16.0, 64.0][stage];
                Stage::new(rates[stage], FIRST_BAND[stage]..last, widest)
            }),
            halvers: halvings.map(|count| vec![Halver::default(); count]),
            work: [room(), room()],
            waiting: room(),
            cells: 0,
            passed: 0,
        }
    }

    /// Takes one cell of samples, a slice a channel, of one length; a bus of one channel has
    /// silence in the other. A transform waits until it `may` be done; gives whether one was.
    #[inline(never)]
    pub(crate) fn cell(&mut self, input: [&[f32]; MAX_CHANNELS], may: bool) -> bool {
        // One step a cell, the first stage first: its next spectrum is due soonest.
        let busy = self.stages.iter_mut().find(|stage| stage.is_busy());
        let transformed = busy.is_some_and(|stage| stage.step(may));
        let [work, spare] = &mut self.work;
        // Never more than the capacity: nothing is allocated here.
        let frames = input[0].len().min(work.capacity() / MAX_CHANNELS);
        work.resize(MAX_CHANNELS * frames, 0.0);
        let pairs = work.as_chunks_mut::<MAX_CHANNELS>().0.iter_mut();
        for ((out, &left), &right) in pairs.zip(input[0]).zip(input[1]) {
            *out = [left, right];
        }
        self.stages[0].fill(work);
        for halver in &mut self.halvers[0] {
            halver.process(work, spare);
            std::mem::swap(work, spare);
        }
        self.stages[1].fill(work);
        self.waiting.extend_from_slice(work);
        self.passed += (work.len() / MAX_CHANNELS) as u64;
        self.cells += 1;
        if self.cells == TOGETHER || self.is_due_below() {
            self.go_down();
        }
        for stage in &mut self.stages {
            stage.due();
        }
        transformed
    }

    /// Whether a spectrum below the second stage is due once all that waits is there.
    fn is_due_below(&self) -> bool {
        let mut frames = self.passed;
        self.stages[2..].iter().zip(&self.halvers[1..]).any(|(stage, halvers)| {
            frames = halvers.iter().fold(frames, |frames, _| frames.div_ceil(2));
            stage.is_due_at(frames)
        })
    }

    /// Brings what waits down to the stages below the second.
    fn go_down(&mut self) {
        let [work, spare] = &mut self.work;
        std::mem::swap(work, &mut self.waiting);
        for (stage, halvers) in self.stages[2..].iter_mut().zip(&mut self.halvers[1..]) {
            for halver in halvers {
                halver.process(work, spare);
                std::mem::swap(work, spare);
            }
            stage.fill(work);
        }
        self.waiting.clear();
        self.cells = 0;
    }

    /// Mean power of each third octave (mean square, added over channels); 0 where the rate has no
    /// such band, or before the band's first spectrum.
    pub(crate) fn thirds(&self) -> [f64; THIRDS] {
        let mut thirds = [0.0; THIRDS];
        for stage in &self.stages {
            stage.read(&mut thirds);
        }
        thirds
    }

    /// The same in dB, mean square re 1.0; `None` for nothing.
    pub(crate) fn thirds_dbfs(&self) -> [Option<f64>; THIRDS] {
        self.thirds().map(|power| (power > 0.0).then(|| crate::decibels::power_db(power)))
    }

    pub(crate) fn reset(&mut self) {
        self.stages.iter_mut().for_each(Stage::reset);
        self.halvers.iter_mut().flatten().for_each(|halver| *halver = Halver::default());
        self.waiting.clear();
        (self.cells, self.passed) = (0, 0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever the rate and the length of the cells: no spectrum waits for what lies ready for it.
    #[test]
    fn nothing_that_is_due_is_kept_waiting() {
        for (rate_hz, frames) in [(8_000.0, 8), (44_100.0, 44), (48_000.0, 48), (192_000.0, 192)] {
            let mut spectrum = LongTermSpectrum::new(rate_hz, frames);
            let cell = vec![0.5; frames];
            for number in 0..6_000 {
                spectrum.cell([&cell[..], &cell], true);
                assert!(!spectrum.is_due_below(), "{rate_hz} Hz: cell {number}");
            }
            let mut passed = spectrum.passed;
            for (stage, halvers) in spectrum.stages[2..].iter().zip(&spectrum.halvers[1..]) {
                passed = halvers.iter().fold(passed, |frames, _| frames.div_ceil(2));
                assert!(stage.is_due_at(passed + 1_024) && !stage.is_due_at(passed));
            }
        }
    }
}

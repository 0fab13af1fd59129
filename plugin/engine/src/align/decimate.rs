//! A stream brought down to the rate of the coarse search.

use crate::lanes::dot;
use crate::thresholds::align as t;

/// Kernel length a unit of the decimation factor.
const TAPS_A_STEP: usize = 6;

/// Low-passes, keeps one sample in `step`, and takes the first difference.
#[derive(Clone, Debug)]
pub(super) struct Decimator {
    kernel: Box<[f32]>,
    step: usize,
    /// The past that the kernel still needs, then the cell at hand.
    window: Box<[f32]>,
    /// Frames of the next cell ahead of its first kept sample.
    skip: usize,
    last: f32,
}

impl Decimator {
    /// `most`: most frames given at once. Allocates.
    pub(super) fn new(step: usize, most: usize) -> Self {
        let taps = if step == 1 { 1 } else { TAPS_A_STEP * step };
        let mut kernel: Vec<f32> = (0..taps)
            .map(|k| {
                let x = (k as f64 + 0.5) / taps as f64 - 0.5;
                let hann = 0.5 + 0.5 * (std::f64::consts::TAU * x).cos();
                // Cut-off at 0.42 of the kept rate: the slope ends near its half.
                let angle = std::f64::consts::TAU * 0.42 * x * taps as f64 / step as f64;
                let sinc = if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle };
                (hann * sinc) as f32
            })
            .collect();
        let sum: f32 = kernel.iter().sum();
        kernel.iter_mut().for_each(|k| *k /= sum);
        Self {
            window: vec![0.0; taps - 1 + most].into(),
            kernel: kernel.into(),
            step,
            skip: 0,
            last: 0.0,
        }
    }

    /// Takes a piece of the stream; hands every kept sample to `out`.
    pub(super) fn process(&mut self, input: &[f32], mut out: impl FnMut(f32)) {
        let past = self.kernel.len() - 1;
        self.window[past..past + input.len()].copy_from_slice(input);
        let mut at = self.skip;
        while at < input.len() {
            let x = dot(&self.kernel, &self.window[at..at + self.kernel.len()]);
            out(x - t::PRE_EMPHASIS * self.last);
            self.last = x;
            at += self.step;
        }
        self.skip = at - input.len();
        self.window.copy_within(input.len()..input.len() + past, 0);
    }

    pub(super) fn reset(&mut self) {
        self.window.fill(0.0);
        self.skip = 0;
        self.last = 0.0;
    }
}

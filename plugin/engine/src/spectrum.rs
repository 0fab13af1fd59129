//! Long-term spectrum in third octaves, from spectra taken back to back over the programme.
//!
//! The work is spread: a spectrum is windowed in one millisecond, transformed a channel a
//! millisecond, and added up in the next.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::MAX_CHANNELS;
use crate::thresholds::SPECTRUM_LEAST_S;

/// Number of third-octave bands, 25 Hz to 20 kHz.
pub(crate) const THIRDS: usize = 30;
/// Number of the lowest band relative to 1 kHz (IEC 61260-1: base-ten, `1000 * 10^(x/10)` Hz).
const LOWEST: i32 = -16;

/// Lower edge of third octave `index`, Hz (IEC 61260-1, base ten); `index == THIRDS` gives the
/// upper edge of the last.
pub(crate) fn third_edge_hz(index: usize) -> f64 {
    1_000.0 * 10f64.powf((f64::from(LOWEST) + index as f64 - 0.5) / 10.0)
}

/// Adds up the power spectrum of a bus.
pub(crate) struct LongTermSpectrum {
    channels: usize,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    /// Samples of each channel, filled back to back.
    fill: [Vec<f32>; MAX_CHANNELS],
    filled: usize,
    /// Windowed samples on their way through the transform.
    work: [Vec<f32>; MAX_CHANNELS],
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// Channels of `work` still to be transformed.
    pending: usize,
    hz_per_bin: f64,
    /// Mean square of a bin a unit of its squared magnitude.
    scale: f64,
    /// Sums of band powers (mean squares, added over channels) over the spectra taken.
    thirds: [f64; THIRDS],
}

impl std::fmt::Debug for LongTermSpectrum {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LongTermSpectrum").field("thirds", &self.thirds).finish_non_exhaustive()
    }
}

impl LongTermSpectrum {
    /// Plans the transform and allocates.
    pub(crate) fn new(rate_hz: f64, channels: usize) -> Self {
        let length = ((rate_hz * SPECTRUM_LEAST_S) as usize).next_power_of_two();
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let window: Vec<f32> = (0..length)
            .map(|i| {
                let phase = std::f64::consts::TAU * (i as f64 + 0.5) / length as f64;
                (0.5 - 0.5 * phase.cos()) as f32
            })
            .collect();
        let window_power: f64 = window.iter().map(|&w| f64::from(w * w)).sum();
        Self {
            channels,
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fill: std::array::from_fn(|_| vec![0.0; length]),
            work: std::array::from_fn(|_| vec![0.0; length]),
            filled: 0,
            pending: 0,
            hz_per_bin: rate_hz / length as f64,
            scale: 2.0 / (length as f64 * window_power),
            thirds: [0.0; THIRDS],
            window,
            fft,
        }
    }

    /// Takes one cell of samples, a slice a channel.
    pub(crate) fn cell(&mut self, input: [&[f32]; MAX_CHANNELS]) {
        if self.pending > 0 {
            self.pending -= 1;
            self.transform(self.pending);
        }
        let length = self.window.len();
        let mut taken = 0;
        while taken < input[0].len() {
            let n = (input[0].len() - taken).min(length - self.filled);
            for channel in 0..self.channels {
                self.fill[channel][self.filled..self.filled + n]
                    .copy_from_slice(&input[channel][taken..taken + n]);
            }
            taken += n;
            self.filled += n;
            if self.filled == length {
                self.filled = 0;
                for channel in 0..self.channels {
                    for ((out, &x), &w) in
                        self.work[channel].iter_mut().zip(&self.fill[channel]).zip(&self.window)
                    {
                        *out = x * w;
                    }
                }
                self.pending = self.channels;
            }
        }
    }

    fn transform(&mut self, channel: usize) {
        let done = self.fft.process_with_scratch(
            &mut self.work[channel],
            &mut self.spectrum,
            &mut self.scratch,
        );
        debug_assert!(done.is_ok(), "the vectors were made by the plan itself");
        // Power up to each band edge, by straight-line interpolation inside the bin that holds it.
        let mut sum = 0.0f64;
        let mut bin = 0usize;
        let mut at_edge = 0.0;
        for index in 0..=THIRDS {
            // Bin k spans k - 1/2 to k + 1/2.
            let edge = third_edge_hz(index) / self.hz_per_bin + 0.5;
            while bin + 1 < self.spectrum.len() && (bin + 1) as f64 <= edge {
                sum += f64::from(self.spectrum[bin].norm_sqr());
                bin += 1;
            }
            let part = (edge - bin as f64).clamp(0.0, 1.0);
            let here = sum + part * f64::from(self.spectrum[bin].norm_sqr());
            if index > 0 {
                self.thirds[index - 1] += self.scale * (here - at_edge);
            }
            at_edge = here;
        }
    }

    /// Power of each third octave, summed over spectra: shares matter, not the absolute value.
    pub(crate) fn thirds(&self) -> &[f64; THIRDS] {
        &self.thirds
    }

    pub(crate) fn reset(&mut self) {
        self.filled = 0;
        self.pending = 0;
        self.thirds = [0.0; THIRDS];
    }
}

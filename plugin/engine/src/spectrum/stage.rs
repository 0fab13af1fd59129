//! One stage: spectra of one length, overlapping by half, added up in third octaves.

use std::f64::consts::PI;
use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use super::{THIRDS, third_edge_hz};
use crate::MAX_CHANNELS;

/// The part of a spectrum that belongs to one band: bins `first..=last`, the two at the ends with
/// the share of them that lies inside.
#[derive(Clone, Copy, Debug)]
struct Band {
    first: usize,
    last: usize,
    first_share: f32,
    last_share: f32,
}

/// What is next to be done.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Work {
    Idle,
    Transform(usize),
    AddUp(usize),
}

pub(super) struct Stage {
    channels: usize,
    bands: Range<usize>,
    parts: Vec<Band>,
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    /// The last samples of each channel, twice as many as a spectrum takes.
    ring: [Vec<f32>; MAX_CHANNELS],
    /// Samples written to each ring since reset.
    written: [u64; MAX_CHANNELS],
    /// Where the spectrum being made starts in the ring.
    start: usize,
    work: Work,
    windowed: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// Spectra begun since reset.
    begun: u64,
    /// Spectra added up, and their power in each band.
    added: u64,
    sums: [f64; THIRDS],
    /// The power of spectra whose channels are not all added up yet.
    open: [f64; THIRDS],
    scale: f64,
}

impl std::fmt::Debug for Stage {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Stage").field("bands", &self.bands).finish_non_exhaustive()
    }
}

impl Stage {
    /// A stage for the third octaves `bands` of a stream of `rate_hz`, whose bins are `widest_hz`
    /// wide or less.
    pub(super) fn new(rate_hz: f64, channels: usize, bands: Range<usize>, widest_hz: f64) -> Self {
        let length = ((rate_hz / widest_hz).ceil() as usize).next_power_of_two();
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let hz_per_bin = rate_hz / length as f64;
        let bins = length / 2 + 1;
        Self {
            channels,
            parts: bands
                .clone()
                .take_while(|&index| third_edge_hz(index + 1) <= rate_hz / 2.0)
                .map(|index| part(index, hz_per_bin, bins))
                .collect(),
            bands,
            // Its square and that of its neighbour half a length on add up to one. The inner sine
            // makes its ends as smooth as a Hann window's.
            window: (0..length)
                .map(|i| {
                    let inner = (PI * (i as f64 + 0.5) / length as f64).sin();
                    (PI / 2.0 * inner * inner).sin() as f32
                })
                .collect(),
            ring: std::array::from_fn(|_| vec![0.0; 2 * length]),
            written: [0; MAX_CHANNELS],
            start: 0,
            work: Work::Idle,
            windowed: vec![0.0; length],
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            begun: 0,
            added: 0,
            sums: [0.0; THIRDS],
            open: [0.0; THIRDS],
            // One-sided power over the length, and over the window's mean square of one half.
            scale: 2.0 / (length as f64 * length as f64 * 0.5),
            fft,
        }
    }

    /// Adds samples to a channel's ring. At most a quarter of a spectrum at a time.
    pub(super) fn fill(&mut self, channel: usize, samples: &[f32]) {
        let ring = &mut self.ring[channel];
        let at = (self.written[channel] % ring.len() as u64) as usize;
        let first = samples.len().min(ring.len() - at);
        ring[at..at + first].copy_from_slice(&samples[..first]);
        ring[..samples.len() - first].copy_from_slice(&samples[first..]);
        self.written[channel] += samples.len() as u64;
    }

    /// Begins a spectrum where one is due: every half length, the first with half of it before
    /// the start.
    pub(super) fn due(&mut self) {
        let hop = self.window.len() / 2;
        if self.written[0] >= (self.begun + 1) * hop as u64 {
            debug_assert!(
                self.work == Work::Idle,
                "a spectrum takes less time than half its length"
            );
            // The ring holds two lengths, so this one ends where `written` stood a moment ago.
            let end = (self.begun + 1) as usize % 4 * hop;
            self.start = (end + 2 * hop) % (4 * hop);
            self.begun += 1;
            self.work = Work::Transform(0);
        }
    }

    pub(super) fn is_busy(&self) -> bool {
        self.work != Work::Idle
    }

    /// Does one piece of the work that waits: a transform, or the adding up of one spectrum.
    pub(super) fn step(&mut self) {
        match self.work {
            Work::Idle => {}
            Work::Transform(channel) => {
                self.transform(channel);
                self.work = Work::AddUp(channel);
            }
            Work::AddUp(channel) => {
                self.add_up();
                if channel + 1 < self.channels {
                    self.work = Work::Transform(channel + 1);
                } else {
                    for (sum, open) in self.sums.iter_mut().zip(&mut self.open) {
                        *sum += std::mem::take(open);
                    }
                    self.added += 1;
                    self.work = Work::Idle;
                }
            }
        }
    }

    fn transform(&mut self, channel: usize) {
        let ring = &self.ring[channel];
        let length = self.window.len();
        let first = length.min(ring.len() - self.start);
        let (out_first, out_rest) = self.windowed.split_at_mut(first);
        let (window_first, window_rest) = self.window.split_at(first);
        weigh(out_first, &ring[self.start..self.start + first], window_first);
        weigh(out_rest, &ring[..length - first], window_rest);
        let done = self.fft.process_with_scratch(
            &mut self.windowed,
            &mut self.spectrum,
            &mut self.scratch,
        );
        debug_assert!(done.is_ok(), "the vectors were made by the plan itself");
    }

    fn add_up(&mut self) {
        for (index, band) in self.parts.iter().enumerate() {
            let bins = &self.spectrum[band.first..=band.last];
            let inside = power(bins);
            let ends = (1.0 - band.first_share) * bins[0].norm_sqr()
                + (1.0 - band.last_share) * bins[bins.len() - 1].norm_sqr();
            self.open[self.bands.start + index] += self.scale * f64::from((inside - ends).max(0.0));
        }
    }

    /// Puts the mean power of this stage's bands into `thirds`.
    pub(super) fn read(&self, thirds: &mut [f64; THIRDS]) {
        if self.added == 0 {
            return;
        }
        // Half of the first window's weight lies before the start.
        let weight = self.added as f64 - 0.5;
        for index in self.bands.clone() {
            thirds[index] = self.sums[index] / weight;
        }
    }

    pub(super) fn reset(&mut self) {
        self.ring.iter_mut().for_each(|ring| ring.fill(0.0));
        self.written = [0; MAX_CHANNELS];
        self.work = Work::Idle;
        self.begun = 0;
        self.added = 0;
        self.sums = [0.0; THIRDS];
        self.open = [0.0; THIRDS];
    }
}

/// `out = x * window`, element by element.
fn weigh(out: &mut [f32], x: &[f32], window: &[f32]) {
    for ((out, &x), &w) in out.iter_mut().zip(x).zip(window) {
        *out = x * w;
    }
}

/// Power of all bins. Eight sums side by side, since one after another cannot be shared out among
/// the lanes of an instruction.
fn power(bins: &[Complex<f32>]) -> f32 {
    const LANES: usize = 8;
    let mut sums = [0.0f32; LANES];
    let pieces = bins.chunks_exact(LANES);
    let rest = pieces.remainder();
    for piece in pieces {
        for (sum, bin) in sums.iter_mut().zip(piece) {
            *sum += bin.re * bin.re + bin.im * bin.im;
        }
    }
    sums.iter().sum::<f32>() + rest.iter().map(Complex::norm_sqr).sum::<f32>()
}

/// Bins of third octave `index`; bin k spans k - 1/2 to k + 1/2.
fn part(index: usize, hz_per_bin: f64, bins: usize) -> Band {
    let from = third_edge_hz(index) / hz_per_bin + 0.5;
    let to = third_edge_hz(index + 1) / hz_per_bin + 0.5;
    let last = (to as usize).min(bins - 1);
    Band {
        first: from as usize,
        last,
        first_share: (1.0 - from.fract()) as f32,
        last_share: (to - last as f64).min(1.0) as f32,
    }
}

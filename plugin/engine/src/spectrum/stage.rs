//! One stage: spectra of one length, overlapping by half, added up in third octaves.

use std::f64::consts::PI;
use std::ops::Range;
use std::sync::Arc;

use brunt_transforms::Fft;
use brunt_transforms::num_complex::Complex;
use wide::f32x4;

use super::{THIRDS, third_edge_hz};
use crate::lanes::power;

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
    Window,
    Transform,
    AddUp,
}

/// Most cells that a transform waits for: a spectrum is due every ten cells at the soonest, and takes
/// three.
const MOST_WAITED: u32 = 3;

pub(super) struct Stage {
    bands: Range<usize>,
    parts: Vec<Band>,
    fft: Arc<dyn Fft<f32>>,
    /// Weights, each for left and right.
    window: Vec<f32>,
    /// The last frames, interleaved, twice as many as a spectrum takes.
    ring: Vec<f32>,
    /// Frames written to the ring since reset.
    written: u64,
    /// Where the spectrum being made starts in the ring, frames.
    start: usize,
    work: Work,
    /// Cells that the transform has waited for.
    waited: u32,
    /// Both channels as one complex stream, left real and right imaginary, and its spectrum.
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// Spectra begun since reset.
    begun: u64,
    /// Spectra added up, and their power in each band.
    added: u64,
    sums: [f64; THIRDS],
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
    pub(super) fn new(rate_hz: f64, bands: Range<usize>, widest_hz: f64) -> Self {
        let length = ((rate_hz / widest_hz).ceil() as usize).next_power_of_two();
        let (fft, _) = brunt_transforms::complex(length);
        let hz_per_bin = rate_hz / length as f64;
        let bins = length / 2 + 1;
        Self {
            parts: bands
                .clone()
                .take_while(|&index| third_edge_hz(index + 1) <= rate_hz / 2.0)
                .map(|index| part(index, hz_per_bin, bins))
                .collect(),
            bands,
            // Its square and that of its neighbour half a length on add up to one. The inner sine
            // makes its ends as smooth as a Hann window's.
            window: (0..length)
                .flat_map(|i| {
                    let inner = (PI * (i as f64 + 0.5) / length as f64).sin();
                    [(PI / 2.0 * inner * inner).sin() as f32; 2]
                })
                .collect(),
            ring: vec![0.0; 4 * length],
            written: 0,
            start: 0,
            work: Work::Idle,
            waited: 0,
            spectrum: vec![Complex::default(); length],
            scratch: vec![Complex::default(); fft.get_inplace_scratch_len()],
            begun: 0,
            added: 0,
            sums: [0.0; THIRDS],
            // One-sided power over the length, and over the window's mean square of one half; of
            // the two mirrored bins each has half.
            scale: 0.5 * 2.0 / (length as f64 * length as f64 * 0.5),
            fft,
        }
    }

    /// Adds interleaved frames to the ring. At most a quarter of a spectrum at a time.
    pub(super) fn fill(&mut self, frames: &[f32]) {
        let ring = &mut self.ring;
        let at = (2 * self.written % ring.len() as u64) as usize;
        let first = frames.len().min(ring.len() - at);
        ring[at..at + first].copy_from_slice(&frames[..first]);
        ring[..frames.len() - first].copy_from_slice(&frames[first..]);
        self.written += frames.len() as u64 / 2;
    }

    /// Begins a spectrum where one is due: every half length, the first with half of it before
    /// the start.
    pub(super) fn due(&mut self) {
        let hop = self.spectrum.len() / 2;
        if self.is_due_at(self.written) {
            debug_assert!(
                self.work == Work::Idle,
                "a spectrum takes less time than half its length"
            );
            // The ring holds two lengths, so this one ends where `written` stood a moment ago.
            let end = (self.begun + 1) as usize % 4 * hop;
            self.start = (end + 2 * hop) % (4 * hop);
            self.begun += 1;
            self.work = Work::Window;
        }
    }

    /// Whether a spectrum is due once so many frames are written.
    pub(super) fn is_due_at(&self, written: u64) -> bool {
        written >= (self.begun + 1) * (self.spectrum.len() / 2) as u64
    }

    pub(super) fn is_busy(&self) -> bool {
        self.work != Work::Idle
    }

    /// Does one piece of the work that waits, a transform only if it `may` or has waited for long;
    /// gives whether it was one.
    pub(super) fn step(&mut self, may: bool) -> bool {
        if self.work == Work::Transform && !may && self.waited < MOST_WAITED {
            self.waited += 1;
            return false;
        }
        self.waited = 0;
        let transforms = self.work == Work::Transform;
        self.work = match self.work {
            Work::Idle => Work::Idle,
            Work::Window => {
                let length = self.spectrum.len();
                let first = length.min(self.ring.len() / 2 - self.start);
                let (out_first, out_rest) = self.spectrum.split_at_mut(first);
                let (window_first, window_rest) = self.window.split_at(2 * first);
                weigh(out_first, &self.ring[2 * self.start..], window_first);
                weigh(out_rest, &self.ring, window_rest);
                Work::Transform
            }
            Work::Transform => {
                self.fft.process_with_scratch(&mut self.spectrum, &mut self.scratch);
                Work::AddUp
            }
            Work::AddUp => {
                self.add_up();
                self.added += 1;
                Work::Idle
            }
        };
        transforms
    }

    /// Adds the powers of both channels: those of two mirrored bins of the complex spectrum add up
    /// to twice those of the channels' own bins.
    fn add_up(&mut self) {
        let length = self.spectrum.len();
        for (index, band) in self.parts.iter().enumerate() {
            let bins = &self.spectrum[band.first..=band.last];
            let mirrored = &self.spectrum[length - band.last..=length - band.first];
            let end =
                |at: usize| self.spectrum[at].norm_sqr() + self.spectrum[length - at].norm_sqr();
            let inside = power(bins) + power(mirrored);
            let ends = (1.0 - band.first_share) * end(band.first)
                + (1.0 - band.last_share) * end(band.last);
            self.sums[self.bands.start + index] += self.scale * f64::from((inside - ends).max(0.0));
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
        self.ring.fill(0.0);
        self.written = 0;
        self.work = Work::Idle;
        self.begun = 0;
        self.added = 0;
        self.sums = [0.0; THIRDS];
    }
}

/// `out = frame * window`, two frames at a time: there is an even number of them.
fn weigh(out: &mut [Complex<f32>], frames: &[f32], window: &[f32]) {
    let two = frames.as_chunks::<4>().0.iter().zip(window.as_chunks::<4>().0);
    for (out, (&frames, &window)) in out.as_chunks_mut::<2>().0.iter_mut().zip(two) {
        let [left, right, next_left, next_right] =
            (f32x4::new(frames) * f32x4::new(window)).to_array();
        *out = [Complex::new(left, right), Complex::new(next_left, next_right)];
    }
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

//! The spectrum of hits against that of what surrounds them, a transform at a time.
//!
//! One frame of some 40 ms begins with the hit, four lie in its surroundings: two ahead of it, two in
//! its sustained part. Frames that hold the start of another hit are left out, unless all do.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use super::{BANDS_FROM, HIT_BANDS, HitBands, UNKNOWN, hundredths};
use crate::MAX_CHANNELS;
use crate::Sink;
use crate::align::Ring;
use crate::spectrum::third_edge_hz;
use crate::thresholds::shape as t;

/// Frames: the hit's own, two before it, two behind it.
pub(crate) const FRAMES: usize = 5;
/// Hits that can wait.
const WAITING: usize = 16;

/// A hit whose spectrum is still to be worked out.
#[derive(Clone, Copy, Debug, Default)]
struct Waiting {
    hit: u64,
    frame: u64,
    /// Which frames of the surroundings are free of other hits.
    free: [bool; FRAMES - 1],
}

/// Works out the spectra of the main's hits.
pub(crate) struct BandMeter {
    ring: [Ring; MAX_CHANNELS],
    channels: usize,
    rate_hz: f64,
    forward: Arc<dyn RealToComplex<f32>>,
    window: Box<[f32]>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    waiting: [Waiting; WAITING],
    first: u64,
    last: u64,
    /// Steps done of the first.
    done: usize,
    /// Power of each band: of the hit, of its surroundings.
    power: [[f64; HIT_BANDS]; 2],
    /// Transforms in each of the two.
    summed: [u32; 2],
}

impl std::fmt::Debug for BandMeter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("BandMeter").field("done", &self.done).finish_non_exhaustive()
    }
}

/// Length of a frame, frames of audio: some 40 ms.
fn length(rate_hz: f64) -> usize {
    ((t::BANDS_FRAME_S * rate_hz) as usize).max(16).next_power_of_two()
}

/// Starts of the frames, seconds after the onset: the hit's, then those of its surroundings.
pub(crate) fn starts_s(rate_hz: f64) -> [f64; FRAMES] {
    let long = length(rate_hz) as f64 / rate_hz;
    let (rise, after) = (t::BANDS_RISE_S, crate::thresholds::SUSTAIN_FROM_MS * 1e-3);
    [-rise, -rise - 2.0 * long, -rise - long, after, after + long]
}

/// Length of a frame, s.
pub(crate) fn frame_s(rate_hz: f64) -> f64 {
    length(rate_hz) as f64 / rate_hz
}

impl BandMeter {
    /// Plans the transform and allocates.
    pub(crate) fn new(rate_hz: f64, channels: usize) -> Self {
        let length = length(rate_hz);
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let rise = ((t::BANDS_RISE_S * rate_hz) as usize).max(1);
        let fall = length / 2;
        let cosine = |part: f64| 0.5 - 0.5 * (std::f64::consts::PI * part).cos();
        let window = (0..length).map(|k| {
            let up = cosine(((k as f64 + 0.5) / rise as f64).min(1.0));
            let down = cosine((((length - k) as f64 - 0.5) / fall as f64).min(1.0));
            (up * down) as f32
        });
        let room = (t::BANDS_MEMORY_S * rate_hz) as usize;
        Self {
            ring: std::array::from_fn(|_| Ring::new(room)),
            channels,
            rate_hz,
            window: window.collect(),
            input: forward.make_input_vec(),
            output: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            forward,
            waiting: [Waiting::default(); WAITING],
            first: 0,
            last: 0,
            done: 0,
            power: [[0.0; HIT_BANDS]; 2],
            summed: [0; 2],
        }
    }

    /// Keeps a cell of the main.
    pub(crate) fn push(&mut self, main: [&[f32]; MAX_CHANNELS]) {
        for (ring, samples) in self.ring[..self.channels].iter_mut().zip(main) {
            ring.push(samples);
        }
    }

    /// Takes a hit at frame `frame`. Where too many wait it is left out.
    pub(crate) fn add(&mut self, hit: u64, frame: u64, free: [bool; FRAMES - 1]) {
        if self.last - self.first < WAITING as u64 {
            let free = if free.contains(&true) { free } else { [true; FRAMES - 1] };
            self.waiting[(self.last % WAITING as u64) as usize] = Waiting { hit, frame, free };
            self.last += 1;
        }
    }

    /// Whether a hit can be worked on.
    pub(crate) fn has_work(&self) -> bool {
        let end_s = starts_s(self.rate_hz)[FRAMES - 1] + frame_s(self.rate_hz);
        self.next().is_some_and(|hit| {
            self.done > 0 || self.ring[0].count() > hit.frame + (end_s * self.rate_hz) as u64 + 1
        })
    }

    /// Whether none waits.
    pub(crate) fn is_empty(&self) -> bool {
        self.first == self.last
    }

    /// Does a piece of the work on the first hit that waits: a transform and its sums.
    #[inline(never)]
    pub(crate) fn work(&mut self, sink: &mut dyn Sink) {
        let Some(&hit) = self.next() else { return };
        let (frame, channel) = (self.done / self.channels, self.done % self.channels);
        if frame == FRAMES {
            self.give(hit.hit, sink);
            return;
        }
        let counts = frame == 0 || hit.free[frame - 1];
        if counts && self.transform(hit.frame, frame, channel) {
            self.sum(usize::from(frame > 0));
        }
        self.done += 1;
    }

    fn next(&self) -> Option<&Waiting> {
        (self.first < self.last).then(|| &self.waiting[(self.first % WAITING as u64) as usize])
    }

    /// Transforms a frame of the hit at `onset`; gives whether its samples are there.
    fn transform(&mut self, onset: u64, frame: usize, channel: usize) -> bool {
        let start = (starts_s(self.rate_hz)[frame] * self.rate_hz).round() as i64;
        if !self.ring[channel].read(onset as i64 + start, &mut self.input) {
            return false;
        }
        for (x, w) in self.input.iter_mut().zip(&self.window) {
            *x *= w;
        }
        let (input, output) = (&mut self.input, &mut self.output);
        self.forward.process_with_scratch(input, output, &mut self.scratch).is_ok()
    }

    /// Adds the transform's powers to the bands of the hit (0) or of its surroundings (1).
    fn sum(&mut self, to: usize) {
        let bin_hz = self.rate_hz / self.input.len() as f64;
        let place = |hz: f64| (hz / bin_hz + 0.5).min(self.output.len() as f64);
        for (band, power) in self.power[to].iter_mut().enumerate() {
            let index = BANDS_FROM + band;
            let (low, high) = (place(third_edge_hz(index)), place(third_edge_hz(index + 1)));
            let (first, last) = (low as usize, high as usize);
            // A bin that lies across the band's edge is shared out.
            let whole: f64 = self.output[first.min(self.output.len())..last]
                .iter()
                .map(|x| f64::from(x.norm_sqr()))
                .sum();
            let at = |bin: usize| self.output.get(bin).map_or(0.0, |x| f64::from(x.norm_sqr()));
            let (before, beyond) =
                ((low - first as f64) * at(first), (high - last as f64) * at(last));
            *power += whole - before + beyond;
        }
        self.summed[to] += 1;
    }

    fn give(&mut self, hit: u64, sink: &mut dyn Sink) {
        // Both channels of a frame are there, or neither.
        let mean =
            |of: usize, band: usize| self.power[of][band] / f64::from(self.summed[of].max(1));
        let over = std::array::from_fn(|band| {
            let (own, around) = (mean(0, band), mean(1, band));
            let inside = third_edge_hz(BANDS_FROM + band + 1) < 0.5 * self.rate_hz;
            if inside && own > 0.0 && around > 0.0 {
                hundredths((10.0 * (own / around).log10()) as f32, t::BANDS_RANGE_DB)
            } else {
                UNKNOWN
            }
        });
        sink.bands(&HitBands { hit, over });
        self.power = [[0.0; HIT_BANDS]; 2];
        self.summed = [0; 2];
        self.first += 1;
        self.done = 0;
    }

    /// Works out all that wait with what is there, for the end of a programme.
    pub(crate) fn finish(&mut self, sink: &mut dyn Sink) {
        while !self.is_empty() {
            self.work(sink);
        }
    }

    pub(crate) fn reset(&mut self) {
        self.ring.iter_mut().for_each(Ring::reset);
        self.first = 0;
        self.last = 0;
        self.done = 0;
        self.power = [[0.0; HIT_BANDS]; 2];
        self.summed = [0; 2];
    }
}

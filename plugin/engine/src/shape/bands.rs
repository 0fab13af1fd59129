//! The spectrum of hits against that of what surrounds them, a transform at a time.
//!
//! One frame of some 40 ms begins with the hit, two lie in its surroundings: one ahead of it, one in its
//! sustained part, each the nearest of two that holds no start of another hit.

use std::sync::Arc;

use brunt_transforms::RealToComplex;
use brunt_transforms::num_complex::Complex;

use super::{BANDS_FROM, HIT_BANDS, HitBands, Turn, UNKNOWN, hundredths};
use crate::MAX_CHANNELS;
use crate::Sink;
use crate::align::Ring;
use crate::lanes::power as power_of;
use crate::spectrum::third_edge_hz;
use crate::thresholds::shape as t;

/// Frames: the hit's own, and to choose from two before it and two behind it.
pub(crate) const FRAMES: usize = 5;
/// Hits that can wait.
const WAITING: usize = 16;
/// Seconds after which a spectrum that could be worked on takes turns with the estimate of limiting.
/// Ours: the samples last for 0.2 s more, in which every other piece of work does four hits.
const LATE_S: f64 = 0.2;

/// A hit whose spectrum is still to be worked out.
#[derive(Clone, Copy, Debug, Default)]
struct Waiting {
    hit: u64,
    frame: u64,
    /// Which frames of the surroundings count.
    around: [bool; FRAMES - 1],
}

/// Works out the spectra of the main's hits.
pub(crate) struct BandMeter {
    ring: [Ring; MAX_CHANNELS],
    channels: usize,
    rate_hz: f64,
    /// Edges of the bands, bins from half a bin under the first.
    edges: [f64; HIT_BANDS + 1],
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

/// The frames of the surroundings that count: the nearest free one on either side, and the nearest ones
/// where none is free.
fn around(
    [further_before, before, after, further_after]: [bool; FRAMES - 1],
) -> [bool; FRAMES - 1] {
    match [further_before, before, after, further_after] {
        [false, false, false, false] => [false, true, true, false],
        _ => [further_before && !before, before, after, further_after && !after],
    }
}

/// Length of a frame, s.
pub(crate) fn frame_s(rate_hz: f64) -> f64 {
    length(rate_hz) as f64 / rate_hz
}

impl BandMeter {
    /// Plans the transform and allocates.
    pub(crate) fn new(rate_hz: f64, channels: usize) -> Self {
        let length = length(rate_hz);
        let (forward, _) = brunt_transforms::real(length);
        let rise = ((t::BANDS_RISE_S * rate_hz) as usize).max(1);
        let fall = length / 2;
        let cosine = |part: f64| 0.5 - 0.5 * (std::f64::consts::PI * part).cos();
        let window = (0..length).map(|k| {
            let up = cosine(((k as f64 + 0.5) / rise as f64).min(1.0));
            let down = cosine((((length - k) as f64 - 0.5) / fall as f64).min(1.0));
            (up * down) as f32
        });
        let room = (t::BANDS_MEMORY_S * rate_hz) as usize;
        let output = forward.make_output_vec();
        let bin_hz = rate_hz / length as f64;
        let edge = |band: usize| third_edge_hz(BANDS_FROM + band) / bin_hz + 0.5;
        Self {
            ring: std::array::from_fn(|_| Ring::new(room)),
            channels,
            rate_hz,
            edges: std::array::from_fn(|band| edge(band).min(output.len() as f64)),
            window: window.collect(),
            input: forward.make_input_vec(),
            output,
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
    /// `free`: which frames of its surroundings hold no other hit.
    pub(crate) fn add(&mut self, hit: u64, frame: u64, free: [bool; FRAMES - 1]) {
        if self.last - self.first < WAITING as u64 {
            let around = around(free);
            self.waiting[(self.last % WAITING as u64) as usize] = Waiting { hit, frame, around };
            self.last += 1;
        }
    }

    /// Whether a hit is to be worked on.
    pub(crate) fn has_work(&self, turn: Turn) -> bool {
        let end_s = starts_s(self.rate_hz)[FRAMES - 1] + frame_s(self.rate_hz);
        let after_s = match turn {
            Turn::End => return !self.is_empty(),
            Turn::Free => end_s,
            Turn::Late => end_s + LATE_S,
        };
        self.next().is_some_and(|hit| {
            self.ring[0].count() > hit.frame + (after_s * self.rate_hz) as u64 + 1
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
        let counts = |done: usize| match done / self.channels {
            0 => true,
            frame => hit.around[frame - 1],
        };
        // A frame that does not count takes no turn.
        let all = FRAMES * self.channels;
        let done = (self.done..all).find(|done| counts(*done)).unwrap_or(all);
        if done == all {
            self.give(hit.hit, sink);
            return;
        }
        let (frame, channel) = (done / self.channels, done % self.channels);
        if self.transform(hit.frame, frame, channel) {
            self.sum(usize::from(frame > 0));
        }
        self.done = done + 1;
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
        let at = |bin: usize| self.output.get(bin).map_or(0.0, |x| f64::from(x.norm_sqr()));
        for (power, edges) in self.power[to].iter_mut().zip(self.edges.windows(2)) {
            let (first, last) = (edges[0] as usize, edges[1] as usize);
            let whole = f64::from(power_of(&self.output[first.min(self.output.len())..last]));
            // A bin that lies across the band's edge is shared out.
            *power += whole - edges[0].fract() * at(first) + edges[1].fract() * at(last);
        }
        self.summed[to] += 1;
    }

    fn give(&mut self, hit: u64, sink: &mut dyn Sink) {
        // Both channels of a frame are there, or neither.
        let mean =
            |of: usize, band: usize| self.power[of][band] / f64::from(self.summed[of].max(1));
        let over = std::array::from_fn(|band| {
            let (own, around) = (mean(0, band), mean(1, band));
            let inside = self.edges[band + 1] < self.output.len() as f64 - 0.5;
            if inside && own > 0.0 && around > 0.0 {
                hundredths((10.0 * (own / around).log10()) as f32, t::BANDS_RANGE_DB)
            } else {
                UNKNOWN
            }
        });
        // What is not known at all is no spectrum.
        if self.summed.iter().all(|summed| *summed > 0) {
            sink.bands(&HitBands { hit, over });
        }
        self.power = [[0.0; HIT_BANDS]; 2];
        self.summed = [0; 2];
        self.first += 1;
        self.done = 0;
    }

    /// Works out all that wait with what is there, for the end of a programme.
    pub(crate) fn finish(&mut self, sink: &mut dyn Sink) {
        while self.has_work(Turn::End) {
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

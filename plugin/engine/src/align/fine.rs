//! The fine look: the delay to a fraction of a sample, and how alike the two streams are there.
//!
//! Blocks of both streams, the side-chain's taken earlier by the tracked lag, give cross- and
//! auto-spectra at the full rate with exponential forgetting. Each block counts by its shape and
//! not by its level. Their coherence (Carter, Knapp & Nuttall 1973) tells how much of one stream is
//! a filtered copy of the other; the delay is where the correlation, each bin weighted by
//! `c / (1 - c)` of its coherence `c`, is largest (Hannan & Thomson 1973; Knapp & Carter 1976).

use brunt_transforms::num_complex::Complex;

use super::pair::{PairTransform, Planes};
use super::ring::Ring;
use crate::thresholds::align as t;

/// Bands in which coherence is read: about third octaves.
pub(crate) const BANDS: usize = 24;
/// The lower bands, which hold about half of the bins: they are weighed at once, the others next.
const LOWER_BANDS: usize = 21;
/// Blocks between two estimates.
const ESTIMATE_EVERY: u64 = 4;

/// What the fine look says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Estimate {
    /// Main behind side, frames.
    pub(crate) delay: f64,
    /// Whether the side-chain runs with the other sign.
    pub(crate) inverted: bool,
    /// Coherence (magnitude squared) of each band, its bias taken out; `None` where there is no
    /// signal or no bin.
    pub(crate) bands: [Option<f32>; BANDS],
    /// Effective number of blocks behind it.
    pub(crate) blocks: f32,
    /// Mean coherence weighted by power.
    pub(crate) share: f32,
}

/// Compares two streams around one lag.
pub(crate) struct Fine {
    pair: PairTransform,
    window: Box<[f32]>,
    /// Blocks of both streams on their way to the transform.
    time: [Box<[f32]>; 2],
    spectra: [Planes; 2],
    /// Energy of the windowed block, a stream, and its running mean.
    energy: [f32; 2],
    mean_energy: [f32; 2],
    cross: Planes,
    power: [Box<[f32]>; 2],
    /// Weighted cross-spectrum on its way to the delay.
    weighted: Planes,
    /// What stands in for a second stream, and the weights of bins that have theirs already.
    nothing: Planes,
    ones: Box<[f32]>,
    /// First bin of each band, and behind the last.
    edges: [usize; BANDS + 1],
    keep: f32,
    /// Integer part of the delay: main behind side, frames.
    lag: i64,
    fraction: f64,
    inverted: bool,
    /// Frame of the main stream at which the next block ends.
    next: u64,
    stage: usize,
    blocks: u64,
    effective: f32,
    bands: [Option<f32>; BANDS],
    /// Power of the bins weighed so far times their coherence, and alone.
    like: f32,
    whole: f32,
}

impl std::fmt::Debug for Fine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Fine").field("lag", &self.lag).finish_non_exhaustive()
    }
}

/// Frames of a fine block at that rate.
pub(super) fn block_frames(rate_hz: f64) -> usize {
    ((rate_hz * t::FINE_LEAST_S) as usize).next_power_of_two()
}

impl Fine {
    /// Plans the transforms and allocates.
    pub(crate) fn new(rate_hz: f64) -> Self {
        let length = block_frames(rate_hz);
        let bins = length / 2 + 1;
        let top = t::ALIGN_HIGH_HZ.min(0.45 * rate_hz);
        let ratio = (top / t::ALIGN_LOW_HZ).powf(1.0 / BANDS as f64);
        let edges = std::array::from_fn(|band| {
            let hz = t::ALIGN_LOW_HZ * ratio.powi(band as i32);
            ((hz * length as f64 / rate_hz).round() as usize).clamp(1, bins - 1)
        });
        Self {
            pair: PairTransform::new(length),
            window: (0..length)
                .map(|i| {
                    let phase = std::f64::consts::TAU * (i as f64 + 0.5) / length as f64;
                    (0.5 - 0.5 * phase.cos()) as f32
                })
                .collect(),
            time: std::array::from_fn(|_| vec![0.0; length].into()),
            spectra: std::array::from_fn(|_| Planes::new(bins)),
            energy: [0.0; 2],
            mean_energy: [0.0; 2],
            cross: Planes::new(bins),
            power: std::array::from_fn(|_| vec![0.0; bins].into()),
            weighted: Planes::new(bins),
            nothing: Planes::new(bins),
            ones: vec![1.0; bins].into(),
            edges,
            keep: (-(length as f64) / rate_hz / t::FINE_MEMORY_S).exp() as f32,
            lag: 0,
            fraction: 0.0,
            inverted: false,
            next: 0,
            stage: usize::MAX,
            blocks: 0,
            effective: 0.0,
            bands: [None; BANDS],
            like: 0.0,
            whole: 0.0,
        }
    }

    /// Delay under watch: main behind side, frames.
    pub(crate) fn delay(&self) -> f64 {
        self.lag as f64 + self.fraction
    }

    /// Starts anew around another lag, with the oldest whole block that the rings still keep;
    /// `oldest`: their oldest frame.
    pub(crate) fn aim(&mut self, lag: i64, oldest: u64) {
        self.lag = lag;
        self.fraction = 0.0;
        self.next = oldest + lag.unsigned_abs() + self.window.len() as u64;
        self.stage = usize::MAX;
        self.blocks = 0;
        self.effective = 0.0;
        self.mean_energy = [0.0; 2];
        self.cross.clear();
        for power in &mut self.power {
            power.fill(0.0);
        }
        self.bands = [None; BANDS];
    }

    /// Leaves out what the rings no longer keep; `oldest`: their oldest frame.
    pub(crate) fn leave_out_before(&mut self, oldest: u64) {
        let first = oldest + self.lag.unsigned_abs() + self.window.len() as u64;
        self.next = self.next.max(first);
    }

    /// Whether a transform comes next.
    pub(crate) fn is_heavy(&self) -> bool {
        matches!(self.stage, 1 | 5)
    }

    /// Whether more than one block waits.
    pub(crate) fn is_behind(&self, main: &Ring) -> bool {
        main.count() >= self.next + self.window.len() as u64
    }

    /// Does a share of the work on streams that end at the same frame.
    pub(crate) fn turn(&mut self, main: &Ring, side: &Ring) -> Option<Estimate> {
        let length = self.window.len() as i64;
        match self.stage {
            0 => {
                let end = self.next as i64 - (-self.lag).max(0);
                self.read(0, main, end - length);
                let end = self.next as i64 - self.lag.max(0);
                self.read(1, side, end - length);
                self.stage = 1;
            }
            1 => {
                self.transform();
                self.stage = 2;
            }
            2 => {
                self.add();
                let due = self.blocks > 0 && self.blocks.is_multiple_of(ESTIMATE_EVERY);
                self.next += self.window.len() as u64;
                self.stage = if due { 3 } else { usize::MAX };
            }
            3 => {
                self.weighted.clear();
                (self.like, self.whole) = (0.0, 0.0);
                self.weigh(0..LOWER_BANDS);
                self.stage = 4;
            }
            4 => {
                self.weigh(LOWER_BANDS..BANDS);
                self.stage = 5;
            }
            5 => {
                self.peak();
                self.stage = 6;
            }
            6 => {
                self.stage = if self.newton() { 7 } else { 8 };
            }
            7 => {
                self.newton();
                self.stage = 8;
            }
            8 => {
                self.stage = usize::MAX;
                self.settle();
                return Some(Estimate {
                    delay: self.delay(),
                    inverted: self.inverted,
                    bands: self.bands,
                    blocks: self.effective,
                    share: if self.whole > 0.0 { self.like / self.whole } else { 0.0 },
                });
            }
            _ if main.count() >= self.next => self.stage = 0,
            _ => {}
        }
        None
    }

    /// Takes the next block of a stream; one that is not kept any more counts as silence.
    fn read(&mut self, stream: usize, ring: &Ring, from: i64) {
        let time = &mut self.time[stream];
        self.energy[stream] = 0.0;
        if !ring.read(from, time) {
            time.fill(0.0);
            return;
        }
        let mut sums = [0.0f32; 8];
        let pieces = time.as_chunks_mut::<8>().0.iter_mut();
        for (x, w) in pieces.zip(self.window.as_chunks::<8>().0) {
            for lane in 0..8 {
                x[lane] *= w[lane];
                sums[lane] += x[lane] * x[lane];
            }
        }
        self.energy[stream] = sums.iter().sum();
    }

    fn transform(&mut self) {
        let [main, side] = &self.time;
        for ((out, main), side) in self.pair.time.iter_mut().zip(main).zip(side) {
            *out = Complex::new(*main, *side);
        }
        let [main, side] = &mut self.spectra;
        self.pair.forward(main, side);
    }

    /// Adds the newest pair of blocks, each brought to one energy.
    fn add(&mut self) {
        let mut by = [0.0; 2];
        for stream in 0..2 {
            let energy = self.energy[stream];
            let mean = &mut self.mean_energy[stream];
            *mean = (*mean * self.keep).max(energy) * 0.1 + *mean * self.keep * 0.9;
            if energy > t::QUIET_SHARE * *mean && energy > 1e-9 {
                by[stream] = energy.powf(-0.25);
            }
        }
        if by[0] * by[1] == 0.0 {
            return;
        }
        let keep = self.keep;
        let [main, side] = &self.spectra;
        let [main_power, side_power] = &mut self.power;
        let (main_by, side_by, cross_by) = (by[0] * by[0], by[1] * by[1], by[0] * by[1]);
        let bins = main.re.len();
        let [m_re, m_im, s_re, s_im] =
            [&main.re, &main.im, &side.re, &side.im].map(|plane| &plane[..bins]);
        let (re, im) = (&mut self.cross.re[..bins], &mut self.cross.im[..bins]);
        let (main_power, side_power) = (&mut main_power[..bins], &mut side_power[..bins]);
        for bin in 0..bins {
            let (m, s) = ([m_re[bin], m_im[bin]], [s_re[bin], s_im[bin]]);
            re[bin] = re[bin] * keep + (s[0] * m[0] + s[1] * m[1]) * cross_by;
            im[bin] = im[bin] * keep + (s[0] * m[1] - s[1] * m[0]) * cross_by;
            main_power[bin] = main_power[bin] * keep + (m[0] * m[0] + m[1] * m[1]) * main_by;
            side_power[bin] = side_power[bin] * keep + (s[0] * s[0] + s[1] * s[1]) * side_by;
        }
        self.blocks += 1;
        self.effective = self.effective * keep + 1.0;
    }

    /// Coherence of some bands, and their weighted cross-spectrum.
    fn weigh(&mut self, bands: std::ops::Range<usize>) {
        let bias = 1.0 / self.effective;
        for band in bands {
            let (mut sum, mut count) = (0.0, 0);
            for bin in self.edges[band]..self.edges[band + 1] {
                let product = self.power[0][bin] * self.power[1][bin];
                if product < 1e-20 {
                    continue;
                }
                let cross = self.cross.power(bin);
                let coherence = ((cross / product - bias) / (1.0 - bias)).clamp(0.0, 0.999);
                sum += coherence;
                count += 1;
                let power = product.sqrt();
                self.like += power * coherence;
                self.whole += power;
                let magnitude = cross.sqrt();
                if magnitude > 0.0 {
                    let weight = coherence / (1.0 - coherence) / magnitude;
                    self.weighted.re[bin] = self.cross.re[bin] * weight;
                    self.weighted.im[bin] = self.cross.im[bin] * weight;
                }
            }
            self.bands[band] = (count > 0).then(|| sum / count as f32);
        }
    }

    /// Where the weighted correlation is largest, to a sample and by a parabola between samples.
    fn peak(&mut self) {
        self.pair.inverse(&self.weighted, &self.nothing, &self.ones);
        let time = &self.pair.time;
        let length = time.len();
        let (at, height) = time.iter().enumerate().fold((0, 0.0f32), |best, (m, x)| {
            if x.re.abs() > best.1 { (m, x.re.abs()) } else { best }
        });
        if height == 0.0 {
            return;
        }
        self.inverted = time[at].re < 0.0;
        let sign = if self.inverted { -1.0 } else { 1.0 };
        let value = |m: usize| sign * time[m % length].re;
        let (left, mid, right) = (value(at + length - 1), value(at), value(at + 1));
        let bend = 2.0 * mid - left - right;
        let between = if bend > 0.0 { (right - left) / (2.0 * bend) } else { 0.0 };
        let whole = if at < length / 2 { at as i64 } else { at as i64 - length as i64 };
        self.fraction = whole as f64 + f64::from(between);
    }

    /// A Newton step to the top of the weighted correlation; `false` where there is none.
    fn newton(&mut self) -> bool {
        let step = std::f64::consts::TAU / self.window.len() as f64;
        let sign = if self.inverted { -1.0f32 } else { 1.0 };
        let turn = Complex::from_polar(1.0f64, step * self.fraction);
        let turn = Complex::new(turn.re as f32, turn.im as f32);
        let mut phase = Complex::new(sign, 0.0);
        let (mut slope, mut bend) = (0.0f64, 0.0f64);
        for (bin, (&re, &im)) in self.weighted.re.iter().zip(&self.weighted.im).enumerate() {
            let z = Complex::new(re, im) * phase;
            let omega = bin as f64 * step;
            slope += omega * f64::from(z.im);
            bend += omega * omega * f64::from(z.re);
            phase *= turn;
        }
        if bend <= 0.0 {
            return false;
        }
        self.fraction -= (slope / bend).clamp(-0.5, 0.5);
        true
    }

    /// Moves the whole frames of the fraction over to the lag.
    fn settle(&mut self) {
        let whole = self.fraction.round();
        if whole.abs() < 1.0 {
            return;
        }
        self.lag += whole as i64;
        self.fraction -= whole;
        if whole.abs() > self.window.len() as f64 / 8.0 {
            // Too far for the blocks so far to be of use.
            self.aim(self.lag, self.next - self.window.len() as u64);
            return;
        }
        let step = std::f64::consts::TAU / self.window.len() as f64;
        let mut phase = Complex::new(1.0f32, 0.0);
        let turn = Complex::from_polar(1.0f64, step * whole);
        let turn = Complex::new(turn.re as f32, turn.im as f32);
        for (re, im) in self.cross.re.iter_mut().zip(&mut self.cross.im) {
            let turned = Complex::new(*re, *im) * phase;
            (*re, *im) = (turned.re, turned.im);
            phase *= turn;
        }
    }
}

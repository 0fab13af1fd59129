//! Decaying bursts of white noise over steady white noise, and the meter over them.

use brunt_engine::{Config, Hit, HitShape, HitWave, Meter, Readings, ShapeStats, SideRole, Sink};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

pub const RATE: f64 = 48_000.0;

/// Bursts whose power falls by the factor e in `tau_ms` and starts `over_db` over the ground's.
#[derive(Clone, Copy, Debug)]
pub struct Bursts {
    pub count: usize,
    pub tau_ms: f64,
    pub over_db: f64,
    /// Least distance of two bursts, frames; the largest is a sixth more.
    pub apart: u64,
    pub seed: u64,
}

impl Bursts {
    /// Samples of one channel, and the frame of each burst's first sample. Bursts lie
    /// `apart` or up to a sixth more apart, anywhere within a millisecond.
    pub fn render(&self) -> (Vec<f32>, Vec<u64>) {
        let mut random = Pcg64Mcg::seed_from_u64(self.seed);
        let mut starts = Vec::new();
        let mut at = RATE as u64;
        for _ in 0..self.count {
            starts.push(at);
            at += random.random_range(self.apart..self.apart * 7 / 6);
        }
        // A uniform variable between -1 and 1 has a power of a third.
        let ground = 3e-3;
        let start_power = 10f64.powf(self.over_db / 10.0);
        let mut samples: Vec<f32> =
            (0..at).map(|_| (ground * random.random_range(-1.0..1.0)) as f32).collect();
        for &start in &starts {
            for (k, sample) in samples[start as usize..].iter_mut().take(28_000).enumerate() {
                let ms = k as f64 * 1e3 / RATE;
                let power = start_power * (-ms / self.tau_ms).exp();
                *sample += (ground * power.sqrt() * random.random_range(-1.0..1.0)) as f32;
            }
        }
        (samples, starts)
    }

    /// Mean power from `from_ms` to `to_ms` after the onset over the ground's, dB.
    pub fn over_ground_db(&self, from_ms: f64, to_ms: f64) -> f64 {
        let burst = 10f64.powf(self.over_db / 10.0)
            * self.tau_ms
            * ((-from_ms / self.tau_ms).exp() - (-to_ms / self.tau_ms).exp())
            / (to_ms - from_ms);
        10.0 * (1.0 + burst).log10()
    }
}

/// What the meter gave.
#[derive(Default)]
pub struct Run {
    pub hits: Vec<Hit>,
    pub shapes: Vec<HitShape>,
    pub waves: Vec<HitWave>,
    pub readings: Readings,
}

impl Sink for Run {
    fn hit(&mut self, hit: &Hit) {
        self.hits.push(*hit);
    }

    fn shape(&mut self, shape: &HitShape) {
        self.shapes.push(*shape);
    }

    fn wave(&mut self, wave: &HitWave) {
        self.waves.push(*wave);
    }
}

impl Run {
    /// The statistics of one bus.
    pub fn stats(&self, side: bool) -> ShapeStats {
        let mut stats = ShapeStats::default();
        self.shapes.iter().filter(|shape| shape.side == side).for_each(|shape| stats.add(shape));
        stats
    }
}

/// The meter over a mono mix, with the mix before the limiter where there is one, in blocks of
/// `block` frames.
pub fn run(main: &[f32], before: Option<&[f32]>, block: usize) -> Run {
    let config = Config { sample_rate_hz: RATE, channels: 1 };
    let mut meter = Meter::new(config).expect("a good rate");
    if before.is_some() {
        meter.set_side_role(SideRole::Before);
        meter.assume_side_delay(0.0);
    }
    let mut run = Run::default();
    let mut at = 0;
    while at < main.len() {
        let to = main.len().min(at + block);
        let side = before.map(|side| [&side[at..to]]);
        meter.process(&[&main[at..to]], side.as_ref().map(|side| &side[..]), &mut run);
        at = to;
    }
    meter.finish(&mut run);
    run.readings = *meter.readings();
    run
}

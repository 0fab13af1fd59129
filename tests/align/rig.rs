//! Programmes with known delays, and the meter over both streams.

use brunt_engine::{Config, Hit, Meter, Readings, SideRole};
use brunt_lab::corpus::mix::{Library, Mix, render};
use brunt_lab::corpus::{Song, Stereo, shuffle, songs};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::sync::OnceLock;

pub const RATE: u32 = 48_000;

/// Twenty songs drawn from the corpus, 14 s each, each with a random number of its own.
pub fn programmes() -> &'static [(Mix, u64)] {
    static ALL: OnceLock<Vec<(Mix, u64)>> = OnceLock::new();
    ALL.get_or_init(|| {
        let kits: Vec<&'static str> = songs::ALL.iter().map(|song| song.kit).collect();
        (0..20u64)
            .into_par_iter()
            .map_init(Library::default, |library, seed| {
                let song: Song = shuffle::draw(songs::ALL, &kits, 14.0, 500 + seed);
                let mix = render(&song, RATE, library).unwrap_or_else(|e| panic!("{e}"));
                (mix.first(14.0), seed)
            })
            .collect()
    })
}

/// A delay of 0 to 500 ms, frames, with a fraction; drawn from the seed.
pub fn random_delay(seed: u64) -> f64 {
    Pcg64Mcg::seed_from_u64(seed).random_range(0.0..0.5) * f64::from(RATE)
}

/// The audio later by `frames`, with silence ahead, of the same length. The fraction is made by a
/// windowed sinc, 129 taps under a Kaiser-like window (closed form; exact to -80 dB up to 20 kHz).
pub fn delayed(audio: &Stereo, frames: f64) -> Stereo {
    const HALF: i64 = 64;
    let whole = frames.floor();
    let fraction = frames - whole;
    let taps: Vec<f64> = (-HALF..=HALF)
        .map(|k| {
            let x = k as f64 - fraction;
            let angle = std::f64::consts::PI * x;
            let sinc = if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle };
            let turn = std::f64::consts::PI * x / (HALF as f64 + 1.0);
            sinc * (0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos())
        })
        .collect();
    let mut out = Stereo::silence(audio.rate, audio.len());
    for (from, to) in [(&audio.left, &mut out.left), (&audio.right, &mut out.right)] {
        for (n, y) in to.iter_mut().enumerate() {
            let centre = n as i64 - whole as i64;
            if centre + HALF < 0 {
                continue;
            }
            if fraction == 0.0 {
                *y = usize::try_from(centre)
                    .ok()
                    .and_then(|at| from.get(at))
                    .copied()
                    .unwrap_or(0.0);
                continue;
            }
            let sum: f64 = taps
                .iter()
                .enumerate()
                .filter_map(|(t, tap)| {
                    let at = usize::try_from(centre + HALF - t as i64).ok()?;
                    from.get(at).map(|x| f64::from(*x) * tap)
                })
                .sum();
            *y = sum as f32;
        }
    }
    out
}

/// The audio with white noise of its own, `level_db` under its mean power.
pub fn with_noise(audio: &Stereo, level_db: f64, seed: u64) -> Stereo {
    let mut random = Pcg64Mcg::seed_from_u64(seed ^ 0xabcd);
    let mut out = audio.clone();
    let energy: f64 =
        audio.channels().iter().flat_map(|c| c.iter()).map(|x| f64::from(*x).powi(2)).sum();
    let rms = (energy / (2 * audio.len()) as f64).sqrt() * 10f64.powf(level_db / 20.0);
    // A uniform variable's standard deviation is its half width over the root of three.
    let half = rms * 3f64.sqrt();
    for x in out.left.iter_mut().chain(&mut out.right) {
        *x += random.random_range(-half..half) as f32;
    }
    out
}

/// What the meter gave.
#[derive(Default)]
pub struct Run {
    pub hits: Vec<Hit>,
    /// The same, brought to the match of the whole programme.
    pub settled: Vec<Hit>,
    pub readings: Readings,
    /// Seconds of programme at which a relation stood first, and the readings of every 100 ms.
    pub found_s: Option<f64>,
    pub steps: Vec<Readings>,
}

/// Runs main and side-chain through the meter in blocks of `block` frames.
pub fn run(main: &Stereo, side: &Stereo, role: SideRole, block: usize) -> Run {
    let config = Config { sample_rate_hz: f64::from(main.rate), channels: 2 };
    let mut meter = Meter::new(config).expect("a good rate");
    meter.set_side_role(role);
    let mut run = Run::default();
    let frames = main.len().min(side.len());
    let mut at = 0;
    while at < frames {
        let to = frames.min(at + block);
        meter.process(
            &main.channels().map(|c| &c[at..to]),
            Some(&side.channels().map(|c| &c[at..to])),
            &mut run.hits,
        );
        at = to;
        let readings = *meter.readings();
        if readings.time_s >= 0.1 * (run.steps.len() + 1) as f64 {
            run.steps.push(readings);
        }
        let found =
            readings.compare.is_some_and(|c| c.alignment.relation == brunt_engine::Relation::Found);
        if found && run.found_s.is_none() {
            run.found_s = Some(readings.time_s);
        }
    }
    meter.finish(&mut run.hits);
    run.readings = *meter.readings();
    run.settled.clone_from(&run.hits);
    meter.settle(&mut run.settled);
    run
}

//! Kits made of decaying modes and noise, drawn from a seed: as many different drums as a fit
//! needs, none of them a recording.

use super::Stereo;
use super::amp::Biquad;
use super::drums::Drum;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::f64::consts::TAU;

/// Start of the names of drawn kits; the seed follows.
pub const PREFIX: &str = "synth-";

/// The name of the drawn kit `seed`. Kits are named for good, so each call leaks a few bytes.
#[must_use]
pub fn name(seed: u64) -> &'static str {
    format!("{PREFIX}{seed}").leak()
}

/// One piece of the kit `seed`, struck with `velocity` (0 to 1). Mono in both channels.
#[must_use]
pub fn strike(seed: u64, drum: Drum, velocity: f64, rate: u32) -> Stereo {
    // The same piece has the same voice at every velocity.
    let mut rng = Pcg64Mcg::seed_from_u64(seed.wrapping_mul(31).wrapping_add(drum as u64));
    let voice = Voice::draw(drum, &mut rng);
    let samples = voice.play(velocity, f64::from(rate), &mut rng);
    Stereo { rate, left: samples.clone(), right: samples }
}

/// A drum: modes that bend down, noise, a click.
struct Voice {
    /// Frequency, Hz, level and decay, s, of each mode.
    modes: Vec<(f64, f64, f64)>,
    /// How far the pitch starts over its rest, as a share, and how fast it falls, s.
    bend: (f64, f64),
    /// Level of the noise, its decay, s, and its lower edge, Hz.
    noise: (f64, f64, f64),
    /// Level of the click and its decay, s.
    click: (f64, f64),
    /// Rise time, s.
    rise: f64,
    /// Saturation ahead of the output; 0 for none.
    saturation: f64,
    length_s: f64,
}

impl Voice {
    fn draw(drum: Drum, rng: &mut Pcg64Mcg) -> Self {
        use Drum::{
            Clap, Cowbell, Crash, HatClosed, HatOpen, HatPedal, Kick, Ride, SideStick, Snare,
            TomHigh, TomLow, TomMid,
        };
        let mut between = |from: f64, to: f64| from * (to / from).powf(rng.random::<f64>());
        let saturation = if between(1.0, 2.0) > 1.6 { between(0.5, 3.0) } else { 0.0 };
        let click = (between(0.1, 1.2), between(0.0006, 0.004));
        let skin = |hz: f64, decay: f64, spread: f64| {
            // Ratios of a circular membrane's modes.
            [(1.0, 1.0), (1.59, 0.5), (2.14, 0.3), (2.30, 0.2)]
                .map(|(ratio, level): (f64, f64)| (hz * ratio, level.powf(spread), decay / ratio))
                .to_vec()
        };
        match drum {
            Kick => Self {
                modes: vec![(between(42.0, 68.0), 1.0, between(0.06, 0.3))],
                bend: (between(0.8, 5.0), between(0.004, 0.03)),
                noise: (between(0.01, 0.1), 0.02, 300.0),
                click,
                rise: between(0.0003, 0.002),
                saturation,
                length_s: 0.6,
            },
            Snare | SideStick | Clap => Self {
                modes: skin(between(160.0, 260.0), between(0.04, 0.14), between(0.7, 2.0)),
                bend: (between(0.02, 0.3), 0.012),
                noise: (between(0.3, 1.5), between(0.03, 0.2), between(600.0, 2500.0)),
                click,
                rise: between(0.0002, 0.0015),
                saturation,
                length_s: 0.5,
            },
            TomHigh | TomMid | TomLow => {
                let hz = match drum {
                    TomHigh => 170.0,
                    TomMid => 125.0,
                    _ => 85.0,
                };
                Self {
                    modes: skin(hz * between(0.85, 1.2), between(0.1, 0.35), between(1.0, 3.0)),
                    bend: (between(0.05, 0.5), 0.02),
                    noise: (between(0.02, 0.15), 0.05, 800.0),
                    click,
                    rise: between(0.0003, 0.0015),
                    saturation,
                    length_s: 0.8,
                }
            }
            Cowbell => Self {
                modes: vec![(562.0, 1.0, 0.08), (845.0, 0.8, 0.09)],
                bend: (0.0, 0.01),
                noise: (0.0, 0.01, 1000.0),
                click,
                rise: 0.0003,
                saturation,
                length_s: 0.4,
            },
            HatClosed | HatPedal | HatOpen | Ride | Crash => {
                let decay = match drum {
                    HatClosed => between(0.02, 0.06),
                    HatPedal => 0.03,
                    HatOpen => between(0.2, 0.5),
                    Ride => between(0.4, 0.9),
                    _ => between(0.7, 1.6),
                };
                let modes = (0..6).map(|_| (between(2500.0, 9000.0), 0.15, decay)).collect();
                Self {
                    modes,
                    bend: (0.0, 0.01),
                    noise: (1.0, decay, between(3000.0, 8000.0)),
                    click: (0.2, 0.001),
                    rise: if drum == Crash { between(0.0005, 0.004) } else { 0.0003 },
                    saturation: 0.0,
                    length_s: (5.0 * decay).min(2.5),
                }
            }
        }
    }

    fn play(&self, velocity: f64, rate: f64, rng: &mut Pcg64Mcg) -> Vec<f32> {
        // A softer stroke has less click and noise.
        let bright = 0.3 + 0.7 * velocity;
        let mut filter = Biquad::high_pass(self.noise.2, rate);
        let mut phases = vec![0.0f64; self.modes.len()];
        let frames = (self.length_s * rate) as usize;
        (0..frames)
            .map(|frame| {
                let t = frame as f64 / rate;
                let bend = 1.0 + self.bend.0 * (-t / self.bend.1).exp();
                let mut sum = 0.0;
                for ((hz, level, decay), phase) in self.modes.iter().zip(&mut phases) {
                    *phase += TAU * hz * bend / rate;
                    sum += level * (-t / decay).exp() * phase.sin();
                }
                let white = f64::from(filter.run(rng.random_range(-1.0..1.0) as f32));
                sum += bright * self.noise.0 * (-t / self.noise.1).exp() * white;
                sum += bright * self.click.0 * (-t / self.click.1).exp() * white;
                sum *= 1.0 - (-t / self.rise).exp();
                if self.saturation > 0.0 {
                    sum = (self.saturation * sum).tanh() / self.saturation;
                }
                sum as f32
            })
            .collect()
    }
}

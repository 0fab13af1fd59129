//! What is played: a beat of our own, made of closed forms and a seeded generator.

use brunt_host::Instance;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// A loaded plug-in; a missing bundle ends the test with the command that builds it.
pub fn instance() -> Instance {
    Instance::load().unwrap_or_else(|error| panic!("{error}"))
}

/// A beat: a decaying 60 Hz tone with a click twice a second over a quiet noise bed, `channels`
/// of them, each with noise of its own.
pub fn beat(rate_hz: f64, seconds: f64, channels: usize) -> Vec<Vec<f32>> {
    let frames = (rate_hz * seconds) as usize;
    let mut random = Pcg64::seed_from_u64(7);
    (0..channels)
        .map(|_| {
            (0..frames)
                .map(|frame| {
                    let t = (frame as f64 / rate_hz) % 0.5;
                    let tone = (-t * 18.0).exp() * (std::f64::consts::TAU * 60.0 * t).sin();
                    let click = (-t * 900.0).exp() * random.random_range(-1.0..1.0);
                    let bed = 0.01 * random.random_range(-1.0..1.0);
                    (0.6 * tone + 0.3 * click + bed) as f32
                })
                .collect()
        })
        .collect()
}

/// Every kind of bit pattern a float can have: normal, denormal, NaN with payload, both
/// infinities, negative zero.
pub fn any_bits(frames: usize, channels: usize, seed: u64) -> Vec<Vec<f32>> {
    let mut random = Pcg64::seed_from_u64(seed);
    let special = [0x7f80_0000, 0xff80_0000, 0x7fc0_1234, 0x7f80_0001, 0xffff_ffff, 0x8000_0000, 1];
    (0..channels)
        .map(|_| {
            (0..frames)
                .map(|_| match random.random_range(0..8) {
                    0 => f32::from_bits(special[random.random_range(0..special.len())]),
                    1 => f32::from_bits(random.random()),
                    _ => random.random_range(-1.0..1.0),
                })
                .collect()
        })
        .collect()
}

/// Whether two signals are the same bit for bit; where not, the first place.
pub fn first_difference(a: &[Vec<f32>], b: &[Vec<f32>]) -> Option<String> {
    if a.len() != b.len() {
        return Some(format!("{} channels against {}", a.len(), b.len()));
    }
    for (channel, (a, b)) in a.iter().zip(b).enumerate() {
        if a.len() != b.len() {
            return Some(format!("channel {channel}: {} frames against {}", a.len(), b.len()));
        }
        let place = a.iter().zip(b).position(|(x, y)| x.to_bits() != y.to_bits());
        if let Some(frame) = place {
            let (x, y) = (a[frame].to_bits(), b[frame].to_bits());
            return Some(format!("channel {channel}, frame {frame}: {x:08x} against {y:08x}"));
        }
    }
    None
}

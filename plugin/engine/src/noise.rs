//! Noise for the engine's own tests.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// White noise, even from -1 to 1.
pub(crate) fn noise(frames: usize, seed: u64) -> Vec<f32> {
    let mut random = Pcg64::seed_from_u64(seed);
    (0..frames).map(|_| random.random_range(-1.0..1.0)).collect()
}

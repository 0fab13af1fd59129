//! Draws from lists and ranges by a seed.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A source of draws.
#[derive(Debug)]
pub struct Draw(Pcg64Mcg);

impl Draw {
    /// The source of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15)))
    }

    /// A number under `count`.
    pub fn below(&mut self, count: usize) -> usize {
        self.0.random_range(0..count)
    }

    /// A number from a range.
    pub fn range(&mut self, from: f64, to: f64) -> f64 {
        self.0.random_range(from..to)
    }

    /// One of a list.
    pub fn of<T>(&mut self, list: &'static [T]) -> &'static T {
        &list[self.below(list.len())]
    }
}

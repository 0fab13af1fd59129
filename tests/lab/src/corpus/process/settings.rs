//! Settings drawn at random.

use super::limit::Limiter;
use rand::Rng;

/// A limiter.
pub(super) fn limiter(rng: &mut impl Rng) -> Limiter {
    let mut between = |from, to| between(rng, from, to);
    Limiter {
        lookahead_ms: between(0.3, 8.0),
        release_ms: between(12.0, 500.0),
        slow_ms: if between(1.0, 2.0) < 1.3 { between(200.0, 1200.0) } else { 0.0 },
    }
}

/// A number between two, drawn evenly on a logarithmic scale.
pub(super) fn between(rng: &mut impl Rng, from: f64, to: f64) -> f64 {
    from * (to / from).powf(rng.random::<f64>())
}

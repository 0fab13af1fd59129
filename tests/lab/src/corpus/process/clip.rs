//! Clippers: memoryless curves that end at the ceiling.

use crate::corpus::Stereo;

/// Flat at the ceiling.
#[must_use]
pub fn hard(input: &Stereo, ceiling: f32) -> Stereo {
    curve(input, |x| x.clamp(-ceiling, ceiling))
}

/// tanh with unity gain for small signals.
#[must_use]
pub fn tanh(input: &Stereo, ceiling: f32) -> Stereo {
    curve(input, |x| ceiling * (x / ceiling).tanh())
}

/// x - 4/27 x^3 up to one and a half times the ceiling, where its slope is zero; unity gain for
/// small signals.
#[must_use]
pub fn cubic(input: &Stereo, ceiling: f32) -> Stereo {
    curve(input, |x| {
        let u = (x / ceiling).clamp(-1.5, 1.5);
        ceiling * (u - 4.0 / 27.0 * u * u * u)
    })
}

fn curve(input: &Stereo, curve: impl Fn(f32) -> f32) -> Stereo {
    let mut out = input.clone();
    out.map(curve);
    out
}

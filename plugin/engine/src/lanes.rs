//! Four numbers side by side in one instruction: what the `wide` crate leaves to be said.

use brunt_transforms::num_complex::Complex;
use wide::f32x4;

/// Numbers in one instruction.
pub(crate) const LANES: usize = 4;

/// The numbers from `at` on; zeros where there are not so many.
#[inline(always)]
pub(crate) fn load(values: &[f32], at: usize) -> f32x4 {
    values[at..].first_chunk::<LANES>().map_or(f32x4::ZERO, |four| f32x4::new(*four))
}

/// The largest of four, none of which is NaN.
#[inline(always)]
pub(crate) fn largest(values: f32x4) -> f32 {
    let [a, b, c, d] = values.to_array();
    larger(larger(a, b), larger(c, d))
}

/// The larger of two numbers that are not NaN: one instruction, where [`f32::max`] is four.
#[inline(always)]
pub(crate) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// Sum of all values, in four strands.
pub(crate) fn sum(values: &[f32]) -> f32 {
    let (fours, rest) = values.as_chunks::<LANES>();
    let strands = fours.iter().fold(f32x4::ZERO, |sum, four| sum + f32x4::new(*four));
    rest.iter().fold(strands.reduce_add(), |sum, value| sum + value)
}

/// Sum of products, in two times four strands; the longer one is cut.
pub(crate) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let length = a.len().min(b.len());
    let (a8, a_rest) = a[..length].as_chunks::<{ 2 * LANES }>();
    let (b8, b_rest) = b[..length].as_chunks::<{ 2 * LANES }>();
    let mut strands = [f32x4::ZERO; 2];
    for (a, b) in a8.iter().zip(b8) {
        for (half, strand) in strands.iter_mut().enumerate() {
            *strand += load(a, half * LANES) * load(b, half * LANES);
        }
    }
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    (strands[0] + strands[1]).reduce_add() + rest
}

/// Power of all bins of a transform: real and imaginary parts of two bins go side by side, in two strands.
pub(crate) fn power(bins: &[Complex<f32>]) -> f32 {
    let (fours, rest) = bins.as_chunks::<4>();
    let mut strands = [f32x4::ZERO; 2];
    for [a, b, c, d] in fours {
        let first = f32x4::new([a.re, a.im, b.re, b.im]);
        let second = f32x4::new([c.re, c.im, d.re, d.im]);
        strands[0] += first * first;
        strands[1] += second * second;
    }
    (strands[0] + strands[1]).reduce_add() + rest.iter().map(Complex::norm_sqr).sum::<f32>()
}

//! Fourier transforms, planned here and nowhere else.
//!
//! `rustfft` and `realfft` are generic over the kind of number, so each crate that plans a transform
//! compiles all of them, for every set of processor instructions: some 1,300 functions, and more of the
//! compiler's time than most of our crates take as a whole. What is planned here is compiled here; it is
//! held by its trait, which names no more than its calls.
//!
//! - Planning allocates. A plan's `process_with_scratch` does not.
//! - With the feature `resampling`: [`resampler`], which is made of the same transforms.
#![forbid(unsafe_code)]

use std::sync::Arc;

use realfft::RealFftPlanner;
use rustfft::FftPlanner;

pub use realfft::{ComplexToReal, RealToComplex};
pub use rustfft::{Fft, num_complex};

/// The transform of complex numbers, and the one back.
#[must_use]
pub fn complex(length: usize) -> (Arc<dyn Fft<f32>>, Arc<dyn Fft<f32>>) {
    let mut planner = FftPlanner::new();
    (planner.plan_fft_forward(length), planner.plan_fft_inverse(length))
}

/// The transform of real numbers, and the one back.
#[must_use]
pub fn real(length: usize) -> (Arc<dyn RealToComplex<f32>>, Arc<dyn ComplexToReal<f32>>) {
    let mut planner = RealFftPlanner::new();
    (planner.plan_fft_forward(length), planner.plan_fft_inverse(length))
}

/// The same in double precision.
#[must_use]
pub fn real_f64(length: usize) -> (Arc<dyn RealToComplex<f64>>, Arc<dyn ComplexToReal<f64>>) {
    let mut planner = RealFftPlanner::new();
    (planner.plan_fft_forward(length), planner.plan_fft_inverse(length))
}

/// Brings `channels` from one sample rate to another, `chunk` frames at a time: two rates, Hz, as whole
/// numbers.
///
/// # Errors
/// When a rate or the chunk is 0.
#[cfg(feature = "resampling")]
pub fn resampler(
    from_hz: usize,
    to_hz: usize,
    chunk: usize,
    channels: usize,
) -> Result<Box<dyn rubato::Resampler<f32>>, rubato::ResamplerConstructionError> {
    use rubato::{Fft, FixedSync, WindowFunction};
    let window = WindowFunction::BlackmanHarris2;
    let made = Fft::new_custom(from_hz, to_hz, chunk, 1, channels, window, FixedSync::Both)?;
    Ok(Box::new(made))
}

#[cfg(feature = "resampling")]
pub use rubato;

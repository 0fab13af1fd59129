//! Spectra of two real streams by one complex transform, and back.
//!
//! One stream is the real part, the other the imaginary part; the symmetry of real streams' spectra
//! takes them apart again. Spectra lie in planes, real parts and imaginary parts each by
//! themselves, so that sums over bins go side by side.

use std::sync::Arc;

use brunt_transforms::Fft;
use brunt_transforms::num_complex::Complex;

/// A spectrum of a real stream: bins 0 to half the length.
#[derive(Clone, Debug)]
pub(super) struct Planes {
    pub(super) re: Box<[f32]>,
    pub(super) im: Box<[f32]>,
}

impl Planes {
    /// Zeros. Allocates.
    pub(super) fn new(bins: usize) -> Self {
        Self { re: vec![0.0; bins].into(), im: vec![0.0; bins].into() }
    }

    pub(super) fn clear(&mut self) {
        self.re.fill(0.0);
        self.im.fill(0.0);
    }

    /// Squared magnitude of a bin.
    pub(super) fn power(&self, bin: usize) -> f32 {
        self.re[bin] * self.re[bin] + self.im[bin] * self.im[bin]
    }
}

/// Transforms two streams at once, of one even length.
pub(super) struct PairTransform {
    forward: Arc<dyn Fft<f32>>,
    inverse: Arc<dyn Fft<f32>>,
    scratch: Box<[Complex<f32>]>,
    /// Both streams: the first real, the second imaginary.
    pub(super) time: Box<[Complex<f32>]>,
}

impl PairTransform {
    /// Plans and allocates.
    pub(super) fn new(length: usize) -> Self {
        let (forward, inverse) = brunt_transforms::complex(length);
        let scratch = forward.get_inplace_scratch_len().max(inverse.get_inplace_scratch_len());
        Self {
            forward,
            inverse,
            scratch: vec![Complex::default(); scratch].into(),
            time: vec![Complex::default(); length].into(),
        }
    }

    /// Spectra of the streams in `time`, which is overwritten.
    pub(super) fn forward(&mut self, first: &mut Planes, second: &mut Planes) {
        self.forward.process_with_scratch(&mut self.time, &mut self.scratch);
        let half = self.time.len() / 2;
        for (bin, at) in [(0, 0), (half, half)] {
            let end = self.time[at];
            (first.re[bin], first.im[bin]) = (end.re, 0.0);
            (second.re[bin], second.im[bin]) = (end.im, 0.0);
        }
        let (front, back) = self.time.split_at(half);
        let bins = first.re[1..half]
            .iter_mut()
            .zip(&mut first.im[1..half])
            .zip(second.re[1..half].iter_mut().zip(&mut second.im[1..half]));
        let mirrored = front[1..].iter().zip(back[1..].iter().rev());
        for ((x, y), ((re, im), (second_re, second_im))) in mirrored.zip(bins) {
            *re = 0.5 * (x.re + y.re);
            *im = 0.5 * (x.im - y.im);
            *second_re = 0.5 * (x.im + y.im);
            *second_im = 0.5 * (y.re - x.re);
        }
    }

    /// The streams of two spectra whose bins are weighted, into `time`. Only the real parts of the
    /// ends count. Not scaled.
    pub(super) fn inverse(&mut self, first: &Planes, second: &Planes, weight: &[f32]) {
        let half = self.time.len() / 2;
        for at in [0, half] {
            self.time[at] = Complex::new(first.re[at] * weight[at], second.re[at] * weight[at]);
        }
        let (front, back) = self.time.split_at_mut(half);
        let bins = first.re[1..half]
            .iter()
            .zip(&first.im[1..half])
            .zip(second.re[1..half].iter().zip(&second.im[1..half]))
            .zip(&weight[1..half]);
        let mirrored = front[1..].iter_mut().zip(back[1..].iter_mut().rev());
        for ((x, y), (((re, im), (second_re, second_im)), weight)) in mirrored.zip(bins) {
            let [re, im, second_re, second_im] =
                [re, im, second_re, second_im].map(|value| value * weight);
            *x = Complex::new(re - second_im, im + second_re);
            *y = Complex::new(re + second_im, second_re - im);
        }
        self.inverse.process_with_scratch(&mut self.time, &mut self.scratch);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: the spectrum of `cos(2 pi k n / N)` is N/2 at bin k, that of the sine -iN/2.
    #[test]
    fn two_tones_come_apart_and_back() {
        let angle = |n: usize, k: f32| std::f32::consts::TAU * k * n as f32 / 64.0;
        let mut pair = PairTransform::new(64);
        for n in 0..64 {
            pair.time[n] = Complex::new(angle(n, 5.0).cos(), angle(n, 9.0).sin());
        }
        let given = pair.time.clone();
        let (mut first, mut second) = (Planes::new(33), Planes::new(33));
        pair.forward(&mut first, &mut second);
        for bin in 0..33 {
            let (want, want_second) =
                (if bin == 5 { 32.0 } else { 0.0 }, if bin == 9 { -32.0 } else { 0.0 });
            assert!((first.re[bin] - want).abs() < 1e-4 && first.im[bin].abs() < 1e-4);
            assert!(second.re[bin].abs() < 1e-4 && (second.im[bin] - want_second).abs() < 1e-4);
        }
        pair.inverse(&first, &second, &[1.0; 33]);
        for (got, want) in pair.time.iter().zip(&given) {
            assert!((got / 64.0 - want).norm() < 1e-5);
        }
    }
}

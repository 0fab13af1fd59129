//! Sample-rate conversion without delay, for one-shots and for oversampled stages.
//!
//! A windowed-sinc interpolator with its centre on the output instant: an onset stays where it
//! was to a fraction of a sample, which a block resampler with its own latency does not promise.

use super::Stereo;

/// Zero crossings on each side of the kernel.
const HALF_WIDTH: usize = 24;

/// Converts one channel by the ratio `to / from`.
#[must_use]
pub fn channel(input: &[f32], from: u32, to: u32) -> Vec<f32> {
    if from == to {
        return input.to_vec();
    }
    let step = f64::from(from) / f64::from(to);
    // Below the lower of both Nyquist rates; 0.96 leaves room for the kernel's slope.
    let cutoff = 0.96 * (1.0 / step).min(1.0);
    let reach = HALF_WIDTH as f64 / cutoff;
    let frames = (input.len() as f64 / step).round() as usize;
    let divisor = gcd(from, to);
    let phases = (to / divisor) as usize;
    let advance = (from / divisor) as usize;
    let taps = 2 * reach.ceil() as usize + 1;
    let kernels: Vec<Vec<f32>> = (0..phases)
        .map(|p| {
            let fraction = (p * advance % phases) as f64 / phases as f64;
            (0..taps).map(|t| kernel(t as f64 - reach.ceil() - fraction, cutoff, reach)).collect()
        })
        .collect();
    (0..frames)
        .map(|n| {
            let centre = (n as u64 * advance as u64 / phases as u64) as i64;
            let first = centre - reach.ceil() as i64;
            let taps = &kernels[n % phases];
            let skip = usize::try_from(-first).unwrap_or(0).min(taps.len());
            let start = usize::try_from(first).unwrap_or(0).min(input.len());
            dot(&taps[skip..], &input[start..])
        })
        .collect()
}

/// Sum of products over the shorter of both, in eight lanes: one sum in order of the terms would
/// keep the compiler from using its vector units, and this is where the corpus spends its time.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    const LANES: usize = 8;
    let length = a.len().min(b.len());
    let (a, b) = (a[..length].chunks_exact(LANES), b[..length].chunks_exact(LANES));
    let rest: f32 = a.remainder().iter().zip(b.remainder()).map(|(k, x)| k * x).sum();
    let mut lanes = [0.0_f32; LANES];
    for (a, b) in a.zip(b) {
        for ((lane, k), x) in lanes.iter_mut().zip(a).zip(b) {
            *lane += k * x;
        }
    }
    rest + lanes.iter().sum::<f32>()
}

/// Converts both channels to `rate`.
#[must_use]
pub fn stereo(input: &Stereo, rate: u32) -> Stereo {
    Stereo {
        rate,
        left: channel(&input.left, input.rate, rate),
        right: channel(&input.right, input.rate, rate),
    }
}

/// Sinc under a Blackman window, at `x` input samples from its centre.
fn kernel(x: f64, cutoff: f64, reach: f64) -> f32 {
    if x.abs() >= reach {
        return 0.0;
    }
    let angle = std::f64::consts::PI * x * cutoff;
    let sinc = if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle };
    let turn = std::f64::consts::PI * x / reach;
    let window = 0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos();
    (cutoff * sinc * window) as f32
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

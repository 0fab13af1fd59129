//! The delay between two whole recordings, found at once. It allocates: for files only.

use brunt_transforms::num_complex::Complex;

use super::Aligner;
use super::decimate::Decimator;
use crate::cells::MICRO;
use crate::thresholds::align as t;
use crate::{Alignment, MAX_CHANNELS, Relation};

/// Relation and delay of two whole recordings at one rate, a slice a channel (an absent second
/// channel is an empty slice). Delays of any length are found: the search runs over the whole of
/// both. Time and memory grow with their length.
#[must_use]
pub fn align_whole(
    main: [&[f32]; MAX_CHANNELS],
    side: [&[f32]; MAX_CHANNELS],
    rate_hz: f64,
) -> Alignment {
    let lag = coarse_lag(main, side, rate_hz);
    let cell_frames = MICRO * ((rate_hz / (1e3 * MICRO as f64)).round() as usize).max(1);
    let mut aligner = Aligner::new(rate_hz, cell_frames);
    aligner.watch(0);
    let mut best = Alignment::default();
    let mut buffers = [
        [vec![0.0f32; cell_frames], vec![0.0f32; cell_frames]],
        [vec![0.0f32; cell_frames], vec![0.0f32; cell_frames]],
    ];
    let frames = main[0].len() as i64;
    let mut from = lag.max(0);
    while from + cell_frames as i64 <= frames && from - lag < side[0].len() as i64 {
        let [m, s] = &mut buffers;
        for channel in 0..MAX_CHANNELS {
            copy(main[channel], from, &mut m[channel]);
            copy(side[channel], from - lag, &mut s[channel]);
        }
        aligner.cell([&m[0], &m[1]], [&s[0], &s[1]], true);
        let now = *aligner.alignment();
        let better = now.likeness > best.likeness && now.relation == Relation::Found;
        if better || best.relation != Relation::Found {
            best = now;
        }
        from += cell_frames as i64;
    }
    if best.relation == Relation::Found {
        let delay = best.delay_frames.unwrap_or(0.0) + lag as f64;
        best.delay_frames = Some(delay);
        best.delay_ms = Some(delay / rate_hz * 1e3);
    }
    best
}

/// Copies the frames from `from` on; what lies outside is silence.
fn copy(samples: &[f32], from: i64, out: &mut [f32]) {
    for (n, x) in out.iter_mut().enumerate() {
        let at = usize::try_from(from + n as i64).ok();
        *x = at.and_then(|at| samples.get(at)).copied().unwrap_or(0.0);
    }
}

/// Main behind side, frames, to one decimated sample: the peak of the whitened cross-correlation
/// of both recordings.
fn coarse_lag(main: [&[f32]; MAX_CHANNELS], side: [&[f32]; MAX_CHANNELS], rate_hz: f64) -> i64 {
    let step = ((rate_hz / t::COARSE_HZ).round() as usize).max(1);
    let streams = [main, side].map(|channels| decimated(channels, step));
    let length = (streams[0].len() + streams[1].len()).next_power_of_two().max(2);
    let (forward, inverse) = brunt_transforms::real(length);
    let spectra = streams.map(|mut stream| {
        stream.resize(length, 0.0);
        let mut spectrum = forward.make_output_vec();
        let done = forward.process(&mut stream, &mut spectrum);
        debug_assert!(done.is_ok(), "lengths are the plan's own");
        spectrum
    });
    let mut cross: Vec<Complex<f32>> = spectra[0]
        .iter()
        .zip(&spectra[1])
        .map(|(x, y)| {
            let product = y.conj() * x;
            let size = product.norm_sqr().sqrt();
            if size > 0.0 { product / size } else { product }
        })
        .collect();
    let last = cross.len() - 1;
    cross[0] = Complex::default();
    cross[last] = Complex::default();
    let mut correlation = vec![0.0f32; length];
    let done = inverse.process(&mut cross, &mut correlation);
    debug_assert!(done.is_ok(), "the ends are zero");
    let (at, _) = correlation
        .iter()
        .enumerate()
        .fold((0, 0.0f32), |best, (at, x)| if x.abs() > best.1 { (at, x.abs()) } else { best });
    let lag = if at < length / 2 { at as i64 } else { at as i64 - length as i64 };
    lag * step as i64
}

fn decimated(channels: [&[f32]; MAX_CHANNELS], step: usize) -> Vec<f32> {
    const PIECE: usize = 4096;
    let mut decimator = Decimator::new(step, PIECE);
    let mut out = Vec::with_capacity(channels[0].len() / step + 1);
    let mut sum = Vec::with_capacity(PIECE);
    for (n, left) in channels[0].chunks(PIECE).enumerate() {
        sum.clear();
        sum.extend(
            left.iter()
                .enumerate()
                .map(|(k, x)| x + channels[1].get(n * PIECE + k).copied().unwrap_or(0.0)),
        );
        decimator.process(&sum, |x| out.push(x));
    }
    out
}

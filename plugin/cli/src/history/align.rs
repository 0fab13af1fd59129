//! Where one revision of a mix lies on another's time, told from when its level rises.

use std::path::Path;

use crate::analyse::Progress;
use crate::decode::AudioFile;
use crate::error::Error;

/// Length of one point of the envelope, s. Ours: an alignment to it is a hundredth of the shortest
/// passage that is measured.
const POINT_S: f64 = 0.002;
/// Points over which a rise is taken. Ours: 20 ms, as long as a drum's attack.
const RISE_POINTS: usize = 10;
/// Level under which nothing rises, mean square. Ours: -80 dBFS.
const FLOOR: f64 = 1e-8;
/// Largest rise of one point that counts, dB. Ours: a cut out of silence must not outweigh a song.
const MOST_DB: f64 = 20.0;
/// Correlation from which two files hold the same song. Ours: programmed songs on one grid of one
/// tempo reach 0.71, revisions through a limiter, a compressor, shelves, a dip or a codec 0.97 and
/// more. A revision that is too far off is measured whole and said to be: the safe mistake.
const SAME_SONG: f64 = 0.8;
/// Shortest overlap that is looked at, as a share of the shorter file. Ours.
const LEAST_OVERLAP: f64 = 0.3;

/// Where a file lies on the first one's time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// Time in the first file at which this one starts, s. Negative where it starts earlier.
    pub(super) offset_s: f64,
    /// Correlation of the rises there, at most 1.
    pub(super) correlation: f64,
}

/// When the level of a file rises.
pub(super) struct Envelope {
    /// Length of the file, s.
    pub(super) duration_s: f64,
    /// Rise of each point, dB, the mean taken out.
    rises: Vec<f64>,
}

impl Envelope {
    /// Reads a file.
    ///
    /// # Errors
    /// Any fault of the file.
    pub(super) fn read(path: &Path, progress: &mut dyn FnMut(Progress)) -> Result<Self, Error> {
        let mut file = AudioFile::open(path)?;
        let rate = f64::from(file.sample_rate_hz());
        let total = file.stated_frames();
        let (mut planes, mut powers) = (Vec::new(), Vec::new());
        let (mut frames, mut sum, mut count) = (0u64, 0.0, 0u32);
        while file.next_block(&mut planes)? {
            for i in 0..planes.first().map_or(0, Vec::len) {
                for plane in &planes {
                    let x = f64::from(plane[i]);
                    sum += if x.is_finite() { x * x } else { 0.0 };
                }
                (frames, count) = (frames + 1, count + 1);
                // Points end where they end in time, so that they do not drift at any rate.
                if frames as f64 >= (powers.len() + 1) as f64 * POINT_S * rate {
                    powers.push(sum / f64::from(count));
                    (sum, count) = (0.0, 0);
                }
            }
            progress(Progress { done: frames, total, sample_rate_hz: file.sample_rate_hz() });
        }
        Ok(Self { duration_s: frames as f64 / rate, rises: rises(&powers) })
    }
}

fn rises(powers: &[f64]) -> Vec<f64> {
    let mean = |from: usize, to: usize| {
        let part = &powers[from..to];
        part.iter().sum::<f64>() / part.len().max(1) as f64 + FLOOR
    };
    let mut rises: Vec<f64> = (0..powers.len())
        .map(|at| {
            let before = mean(at.saturating_sub(RISE_POINTS), at);
            let after = mean(at, (at + RISE_POINTS).min(powers.len()));
            (10.0 * (after / before).log10()).clamp(0.0, MOST_DB)
        })
        .collect();
    if let Some(first) = rises.first_mut() {
        // Nothing lies before the first point.
        *first = 0.0;
    }
    let mean = rises.iter().sum::<f64>() / rises.len().max(1) as f64;
    rises.iter_mut().for_each(|rise| *rise -= mean);
    rises
}

/// Where `other` lies on `first`'s time; `None` where they do not hold the same song.
pub(super) fn place(first: &Envelope, other: &Envelope) -> Option<Place> {
    let (a, b) = (&first.rises, &other.rises);
    let shorter = a.len().min(b.len());
    let least = ((shorter as f64 * LEAST_OVERLAP) as usize).max(1);
    let sums = correlate(a, b)?;
    let (squares_a, squares_b) = (running_squares(a), running_squares(b));
    // Lag: points by which `other` starts after `first`.
    let lags = -(b.len() as i64 - least as i64)..=(a.len() as i64 - least as i64);
    let at = |lag: i64| {
        let from = lag.max(0) as usize;
        let to = (lag + b.len() as i64).min(a.len() as i64) as usize;
        let (from_b, to_b) = ((from as i64 - lag) as usize, (to as i64 - lag) as usize);
        let energy = (squares_a[to] - squares_a[from]) * (squares_b[to_b] - squares_b[from_b]);
        let index = lag.rem_euclid(sums.len() as i64) as usize;
        // Short overlaps agree by chance more easily than long ones.
        let trust = ((to - from) as f64 / shorter as f64).sqrt();
        (energy > 0.0).then(|| (sums[index] / energy.sqrt(), trust))
    };
    let best = lags
        .filter_map(|lag| at(lag).map(|(correlation, trust)| (lag, correlation, trust)))
        .max_by(|x, y| (x.1 * x.2).total_cmp(&(y.1 * y.2)))?;
    let place = Place { offset_s: best.0 as f64 * POINT_S, correlation: best.1 };
    (place.correlation >= SAME_SONG).then_some(place)
}

/// Sums of `a[n + lag] * b[n]` by lag, negative lags at the end. `None` where either is empty.
fn correlate(a: &[f64], b: &[f64]) -> Option<Vec<f64>> {
    let length = (a.len() + b.len()).next_power_of_two();
    let (forward, inverse) = brunt_transforms::real_f64(length);
    let spectrum = |samples: &[f64]| {
        let mut padded = samples.to_vec();
        padded.resize(length, 0.0);
        let mut out = forward.make_output_vec();
        forward.process(&mut padded, &mut out).ok().map(|()| out)
    };
    let (mut product, other) = (spectrum(a)?, spectrum(b)?);
    for (x, y) in product.iter_mut().zip(&other) {
        *x *= y.conj();
    }
    let mut sums = inverse.make_output_vec();
    inverse.process(&mut product, &mut sums).ok()?;
    sums.iter_mut().for_each(|sum| *sum /= length as f64);
    Some(sums)
}

fn running_squares(values: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    std::iter::once(0.0)
        .chain(values.iter().map(|x| {
            sum += x * x;
            sum
        }))
        .collect()
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    use super::*;

    fn envelope(powers: &[f64]) -> Envelope {
        Envelope { duration_s: powers.len() as f64 * POINT_S, rises: rises(powers) }
    }

    /// Hits at times of a pseudo-random series, decaying over a bed.
    fn song(seed: u64, points: usize) -> Vec<f64> {
        let mut random = Pcg64::seed_from_u64(seed);
        let mut level: f64 = 0.0;
        (0..points)
            .map(|_| {
                level = if random.random_range(0..128) == 0 { 1.0 } else { level * 0.93 };
                level + 0.01
            })
            .collect()
    }

    #[test]
    fn a_later_start_is_found_either_way_and_another_song_is_not() {
        let whole = song(7, 8_000);
        let (a, b) = (envelope(&whole), envelope(&whole[1_234..6_000]));
        let ab = place(&a, &b).expect("the same song");
        let ba = place(&b, &a).expect("the same song");
        assert!((ab.offset_s - 2.468).abs() < 1e-9, "{ab:?}");
        assert!((ba.offset_s + 2.468).abs() < 1e-9, "{ba:?}");
        assert_eq!(place(&a, &envelope(&song(99, 7_000))), None);
        assert_eq!(place(&a, &envelope(&[0.0; 4_000])), None);
    }
}

//! What speaks for an onset at one moment: the powers of the bands around it.
//!
//! None of it depends on gain. For each band, all in octaves of power (log2): the mean power in
//! stretches of time that widen with their distance from the moment, and the largest millisecond
//! before and after, over the mean of the whole; that mean over the band's slow mean, and over all
//! bands'. A steady pitch beats inside the stretches, and only what leaves the beat speaks.

use wide::{f32x4, i32x4};

use super::bank::{BANDS, Powers, WIDTH_SHARES};

/// Stretches in cells from the moment on: from, to.
pub(super) const STRETCHES: [(i64, i64); 13] = [
    (-64, -32),
    (-32, -16),
    (-16, -8),
    (-8, -4),
    (-4, -2),
    (-2, -1),
    (-1, 0),
    (0, 1),
    (1, 2),
    (2, 4),
    (4, 8),
    (8, 16),
    (16, 32),
];
/// Cells before a moment that are looked at.
pub(super) const BEFORE: usize = 64;
/// Cells after it.
pub(super) const AFTER: usize = 32;
/// Numbers a band.
const EACH: usize = STRETCHES.len() + 4;
/// Numbers in all.
pub const ONSET_EVIDENCE: usize = EACH * BANDS;
/// The evidence of one moment: all bands' first number, all bands' second, and so on.
pub type OnsetEvidence = [f32; ONSET_EVIDENCE];

/// Power under a band's mean that counts as nothing, as a share. Ours: -60 dB.
const GROUND: f32 = 1e-6;
/// White noise that counts as nothing, as a share of the part's power up to 24 kHz. Ours: -60 dB, what
/// a recorded part has. Out of digital silence every start looked like none that was ever seen.
const HISS: f32 = 1e-6;
/// Least share of a band in all bands that is told, octaves. Ours: what the noise has at 3 kHz; a band
/// that the rate does not carry has less than was ever seen.
const SHARE_LEAST: f32 = -24.0;
/// Power that counts as nothing, mean square. Ours: -120 dBFS.
const FLOOR: f32 = 1e-12;

/// The evidence of the moment between `cells[BEFORE - 1]` and `cells[BEFORE]`, of
/// `BEFORE + AFTER` cells. `slow`: slow mean of each band.
pub(super) fn evidence(cells: &[Powers; BEFORE + AFTER], slow: &Powers) -> OnsetEvidence {
    let mut mean = [f32x4::ZERO; HALVES];
    // Largest power before the moment, the two cells next to it left out, and from it on.
    let mut most = [[f32x4::ZERO; HALVES]; 2];
    let mut stretches = [[f32x4::ZERO; HALVES]; STRETCHES.len()];
    for (sum, (from, to)) in stretches.iter_mut().zip(STRETCHES) {
        let mut largest = [f32x4::ZERO; HALVES];
        let cut = [from, to].map(|cell| (BEFORE as i64 + cell) as usize);
        for cell in &cells[cut[0]..cut[1]] {
            for (half, power) in halves(cell).into_iter().enumerate() {
                sum[half] += power;
                // Powers are numbers.
                largest[half] = largest[half].fast_max(power);
            }
        }
        let most = match from {
            ..-2 => Some(&mut most[0]),
            0.. => Some(&mut most[1]),
            _ => None,
        };
        if let Some(most) = most {
            *most = [0, 1].map(|half| most[half].fast_max(largest[half]));
        }
        for half in 0..HALVES {
            mean[half] += sum[half];
            sum[half] /= f32x4::splat((to - from) as f32);
        }
    }
    let (floor, none) = (f32x4::splat(FLOOR), f32x4::ZERO);
    let mean = mean.map(|sum| sum / f32x4::splat(cells.len() as f32) + floor);
    let slow = halves(slow);
    let sum = |powers: [f32x4; HALVES]| (powers[0] + powers[1]).reduce_add();
    let all = sum(mean);
    let hiss = HISS * (all + sum(slow));
    let widths = halves(&WIDTH_SHARES);
    let ground = [0, 1].map(|half| {
        // A band that the rate does not carry has no noise either.
        let carried = mean[half].simd_gt(floor) | slow[half].simd_gt(none);
        let hiss = carried.select(f32x4::splat(hiss) * widths[half], none);
        f32x4::splat(GROUND) * (mean[half] + slow[half]) + hiss + floor
    });
    let mut out = [0.0; ONSET_EVIDENCE];
    let mut rows = out.chunks_exact_mut(BANDS);
    let mut put = |row: [f32x4; HALVES]| {
        if let Some(out) = rows.next() {
            out[..LANES].copy_from_slice(&row[0].to_array());
            out[LANES..].copy_from_slice(&row[1].to_array());
        }
    };
    for power in stretches.into_iter().chain(most) {
        put([0, 1].map(|half| log2((power[half] + ground[half]) / mean[half])));
    }
    let furthest = f32x4::splat(10.0);
    let over_slow = [0, 1].map(|half| log2(mean[half] / (slow[half] + floor)));
    put(over_slow.map(|octaves| octaves.fast_max(-furthest).fast_min(furthest)));
    let (all, least) = (f32x4::splat(all), f32x4::splat(SHARE_LEAST));
    put(mean.map(|mean| log2(mean / all).fast_max(least)));
    out
}

/// Bands side by side.
const LANES: usize = 4;
/// Such groups of bands.
const HALVES: usize = BANDS / LANES;

/// The lower and the upper bands.
fn halves(powers: &Powers) -> [f32x4; HALVES] {
    [0, 1].map(|half| f32x4::new(std::array::from_fn(|lane| powers[half * LANES + lane])))
}

/// Logarithm to base 2 of a positive number, to 0.01: the exponent and a parabola through the
/// mantissa. A library's logarithm would take most of the picker's time.
fn log2(x: f32x4) -> f32x4 {
    let bits = i32x4::new(x.to_array().map(|x| x.to_bits().cast_signed()));
    let exponent: i32x4 = (bits >> 23) - i32x4::splat(127);
    let m = (bits & i32x4::splat(0x007f_ffff)) | i32x4::splat(0x3f80_0000);
    let m = f32x4::new(m.to_array().map(|bits| f32::from_bits(bits.cast_unsigned())));
    exponent.round_float() + (f32x4::splat(-0.344_845) * m + f32x4::splat(2.024_658)) * m
        - f32x4::splat(1.674_873)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_is_good_to_a_hundredth() {
        for n in 1..4_000 {
            let x = 1e-12f32 * 1.02f32.powi(n);
            if x.is_finite() {
                let got = log2(f32x4::splat(x)).to_array();
                assert!(got.iter().all(|got| (got - x.log2()).abs() < 0.01), "{x}: {got:?}");
            }
        }
    }

    /// Gain moves nothing.
    #[test]
    fn evidence_knows_no_gain() {
        let cells: [Powers; BEFORE + AFTER] = std::array::from_fn(|n| {
            std::array::from_fn(|band| 1e-4 * ((n * 7 + band * 13) % 23 + 1) as f32)
        });
        let loud = cells.map(|cell| cell.map(|power| power * 64.0));
        let slow = [1e-3; BANDS];
        let (a, b) = (evidence(&cells, &slow), evidence(&loud, &slow.map(|p| p * 64.0)));
        for (a, b) in a.iter().zip(b) {
            assert!((a - b).abs() < 1e-3, "{a} {b}");
        }
    }
}

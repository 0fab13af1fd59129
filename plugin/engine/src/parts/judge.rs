//! The odds that a note starts at a moment: a small network, fitted by `tests/lab/fit/onsets.py`.
//!
//! Products are those of whole numbers of 16 bits, eight at a time and half the memory of the fit's
//! own, since every part of a session asks this network hundreds of times a second.

use wide::{f32x8, i16x8, i32x4};

use super::evidence::{ONSET_EVIDENCE, OnsetEvidence};
use super::weights::{FIRST, FIRST_OFFSET, HIDDEN, SECOND, SECOND_OFFSET};

/// Numbers multiplied at a time.
const LANES: usize = 8;
/// Units added up at a time: as many sums as there are registers for.
const GROUP: usize = 8;
/// Such steps through the evidence.
const STEPS: usize = ONSET_EVIDENCE / LANES;

/// Steps of an octave that evidence is told in. What is over 255 octaves would saturate; with
/// [`WEIGHT_STEPS`] no unit's sum passes 2^31 under 150 octaves in all of them at once, and the powers
/// of 24-bit samples differ by 50.
const EVIDENCE_STEPS: f32 = 128.0;
/// Steps of one that weights are told in.
const WEIGHT_STEPS: f32 = 8192.0;

const _: () = assert!(ONSET_EVIDENCE.is_multiple_of(LANES) && HIDDEN.is_multiple_of(GROUP));

/// The first layer in those steps, group by group and step by step.
static WEIGHTS: [[[[i16; LANES]; GROUP]; STEPS]; HIDDEN / GROUP] = {
    let mut weights = [[[[0; LANES]; GROUP]; STEPS]; HIDDEN / GROUP];
    let mut at = 0;
    while at < HIDDEN * ONSET_EVIDENCE {
        let (unit, number) = (at % HIDDEN, at / HIDDEN);
        let weight = FIRST[number][unit] * WEIGHT_STEPS;
        let half = if weight < 0.0 { -0.5 } else { 0.5 };
        weights[unit / GROUP][number / LANES][unit % GROUP][number % LANES] =
            (weight + half) as i16;
        at += 1;
    }
    weights
};

/// Natural logarithm of the odds of an onset; of evidence within 8 octaves, to 0.1 of what the fit's
/// network says.
pub(super) fn log_odds(evidence: &OnsetEvidence) -> f32 {
    let (eights, _) = evidence.as_chunks::<LANES>();
    let mut steps = [i16x8::ZERO; STEPS];
    for (steps, eight) in steps.iter_mut().zip(eights) {
        let octaves = f32x8::new(*eight) * f32x8::splat(EVIDENCE_STEPS);
        *steps = i16x8::from_i32x8_saturate(octaves.fast_round_int());
    }
    let mut sum = SECOND_OFFSET;
    let groups = FIRST_OFFSET.as_chunks::<GROUP>().0.iter().zip(SECOND.as_chunks::<GROUP>().0);
    for (weights, (offsets, second)) in WEIGHTS.iter().zip(groups) {
        let mut units = [i32x4::ZERO; GROUP];
        for (weights, steps) in weights.iter().zip(steps) {
            for (unit, weights) in units.iter_mut().zip(weights) {
                *unit += steps.dot(i16x8::new(*weights));
            }
        }
        for ((unit, offset), weight) in units.into_iter().zip(offsets).zip(second) {
            let unit = unit.reduce_add() as f32 / (EVIDENCE_STEPS * WEIGHT_STEPS) + offset;
            sum += unit.max(0.0) * weight;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    use super::*;

    /// The network written out, in the fit's own numbers.
    fn plain(evidence: &OnsetEvidence) -> f32 {
        (0..HIDDEN).fold(SECOND_OFFSET, |sum, unit| {
            let inputs = evidence.iter().zip(&FIRST);
            let of = inputs.fold(FIRST_OFFSET[unit], |sum, (x, row)| sum + x * row[unit]);
            sum + of.max(0.0) * SECOND[unit]
        })
    }

    #[test]
    fn whole_numbers_say_what_the_fit_says() {
        let (mut most, mut random) = (0.0f32, Pcg64::seed_from_u64(1));
        for _ in 0..2_000 {
            let evidence = std::array::from_fn(|_| random.random_range(-8.0..4.0));
            let (got, want) = (log_odds(&evidence), plain(&evidence));
            most = most.max((got - want).abs());
        }
        assert!(most < 0.1, "{most}");
        assert!(most > 0.0, "nothing was rounded");
    }

    #[test]
    fn the_largest_evidence_does_not_overflow() {
        let largest = |sign: f32| plain(&[24.0 * sign; ONSET_EVIDENCE]);
        for sign in [-1.0, 1.0] {
            let got = log_odds(&[24.0 * sign; ONSET_EVIDENCE]);
            assert!((got - largest(sign)).abs() < 0.01 * largest(sign).abs().max(10.0), "{got}");
        }
        for unit in 0..HIDDEN {
            let sum: f32 = FIRST.iter().map(|row| row[unit].abs()).sum();
            let most = 150.0 * EVIDENCE_STEPS * sum * WEIGHT_STEPS;
            assert!(most < 2f32.powi(31), "{most}");
        }
    }
}

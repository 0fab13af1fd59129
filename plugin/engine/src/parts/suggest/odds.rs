//! From evidence to the odds of a role: a regression over the evidence and its products.

use super::evidence::ROLE_EVIDENCE;
use super::weights::{CENTRE, CLASSES, FAR, OFFSET, SPREAD, WEIGHTS};
use crate::parts::PartRole;
use crate::thresholds::role::LEAST_LOG_ODDS;

/// What the classes stand for; the last is everything else.
const ROLES: [Option<PartRole>; CLASSES] =
    [Some(PartRole::Drums), Some(PartRole::Bass), Some(PartRole::Guitars), None];

/// The likeliest role, and the natural logarithm of its odds against all others together; `None`
/// where those are under [`LEAST_LOG_ODDS`], and where it is likeliest something else.
pub(super) fn likeliest(numbers: &[f32; ROLE_EVIDENCE]) -> Option<(PartRole, f64)> {
    let scaled: [f64; ROLE_EVIDENCE] =
        std::array::from_fn(|n| ((f64::from(numbers[n]) - CENTRE[n]) / SPREAD[n]).clamp(-FAR, FAR));
    let products = (0..ROLE_EVIDENCE)
        .flat_map(|i| (i..ROLE_EVIDENCE).map(move |j| (i, j)))
        .map(|(i, j)| scaled[i] * scaled[j]);
    let mut sums = OFFSET;
    for (value, row) in scaled.into_iter().chain(products).zip(&WEIGHTS) {
        for (sum, weight) in sums.iter_mut().zip(row) {
            *sum += value * f64::from(*weight);
        }
    }
    let best = (0..CLASSES).max_by(|&a, &b| sums[a].total_cmp(&sums[b]))?;
    let others = (0..CLASSES).filter(|n| *n != best).map(|n| (sums[n] - sums[best]).exp());
    let log_odds = -others.sum::<f64>().max(f64::MIN_POSITIVE).ln();
    let least = LEAST_LOG_ODDS.get(best)?;
    ROLES[best].filter(|_| log_odds >= *least).map(|role| (role, log_odds))
}

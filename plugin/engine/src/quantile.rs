//! Medians and quantiles of values that are all there; of a stream see
//! [`Histogram`](crate::histogram::Histogram).

/// Quantile of sorted, non-empty values, by straight-line interpolation between order statistics
/// (Hyndman & Fan 1996, definition 7).
pub(crate) fn quantile(sorted: &[f64], q: f64) -> f64 {
    let at = q * (sorted.len() - 1) as f64;
    let low = at as usize;
    let high = (low + 1).min(sorted.len() - 1);
    sorted[low] + (at - low as f64) * (sorted[high] - sorted[low])
}

/// Median of values: the middle one, or the mean of the two in the middle. `None` of none.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 0.5)
}

/// Quantile `q`, 0 to 1, of values in any order, by straight-line interpolation between order
/// statistics; `None` of none. Allocates: not for an audio thread.
#[must_use]
pub fn percentile(values: &[f64], q: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    (!sorted.is_empty()).then(|| quantile(&sorted, q))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Definition 7 by hand: of 1, 2, 4, 8 the median lies at 1.5 steps, the first tenth at 0.3.
    #[test]
    fn quantiles_lie_between_order_statistics() {
        assert_eq!(median(&[8.0, 1.0, 4.0, 2.0]), Some(3.0));
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(percentile(&[8.0, 1.0, 4.0, 2.0], 0.1), Some(1.3));
        assert_eq!(median(&[]), None);
    }
}

//! Percentiles over a stream in flat memory.

/// Counts of values in equal bins over a fixed range; values outside go to the end bins.
#[derive(Clone, Debug)]
pub(crate) struct Histogram {
    from: f64,
    step: f64,
    counts: Vec<u32>,
    /// Sums of each [`GROUP`] counts, so that a look for a place need not pass every bin.
    groups: Vec<u32>,
    total: u64,
}

/// Bins of a group.
const GROUP: usize = 64;

impl Histogram {
    /// Bins of width `step` from `from` to `to`. Allocates.
    pub(crate) fn new(from: f64, to: f64, step: f64) -> Self {
        let bins = (((to - from) / step).ceil() as usize).max(1);
        let groups = vec![0; bins.div_ceil(GROUP)];
        Self { from, step, counts: vec![0; bins], groups, total: 0 }
    }

    pub(crate) fn add(&mut self, value: f64) {
        let bin = self.bin(value);
        for count in [&mut self.counts[bin], &mut self.groups[bin / GROUP]] {
            *count = count.saturating_add(1);
        }
        self.total += 1;
    }

    /// Takes back a value that was added.
    pub(crate) fn remove(&mut self, value: f64) {
        let bin = self.bin(value);
        if self.counts[bin] > 0 {
            self.counts[bin] -= 1;
            self.groups[bin / GROUP] -= 1;
            self.total -= 1;
        }
    }

    /// Adds `by` to every value counted, to half a bin.
    pub(crate) fn shift(&mut self, by: f64) {
        let (last, bins) = (self.counts.len() - 1, (by / self.step).round() as i64);
        let distance = bins.unsigned_abs().min(last as u64) as usize;
        if bins > 0 {
            let beyond = self.counts[last - distance..=last].iter().sum();
            self.counts.copy_within(..last - distance, distance);
            self.counts[..distance].fill(0);
            self.counts[last] = beyond;
        } else if bins < 0 {
            let beyond = self.counts[..=distance].iter().sum();
            self.counts.copy_within(distance + 1.., 1);
            self.counts[last + 1 - distance..].fill(0);
            self.counts[0] = beyond;
        }
        for (group, counts) in self.groups.iter_mut().zip(self.counts.chunks(GROUP)) {
            *group = counts.iter().sum();
        }
    }

    fn bin(&self, value: f64) -> usize {
        let bin = ((value - self.from) / self.step).max(0.0) as usize;
        bin.min(self.counts.len() - 1)
    }

    /// The values at the rising `quantiles` (0 to 1), found in one pass and interpolated inside
    /// their bins; `None` while empty. Error: half a bin at most.
    pub(crate) fn quantiles<const N: usize>(&self, quantiles: [f64; N]) -> Option<[f64; N]> {
        if self.total == 0 {
            return None;
        }
        let mut out = [0.0; N];
        let mut next = 0;
        let mut below = 0u64;
        for (group, &whole) in self.groups.iter().enumerate() {
            let rank = quantiles[next] * self.total as f64;
            let upto = below + u64::from(whole);
            if whole == 0 || (rank > upto as f64 && upto < self.total) {
                below = upto;
                continue;
            }
            for (bin, &count) in self.counts.iter().enumerate().skip(group * GROUP).take(GROUP) {
                if count == 0 {
                    continue;
                }
                let upto = below + u64::from(count);
                while next < N {
                    // The value with half of its own weight below it, as for a median of the bins.
                    let rank = quantiles[next] * self.total as f64;
                    if rank > upto as f64 && upto < self.total {
                        break;
                    }
                    let inside = ((rank - below as f64) / f64::from(count)).clamp(0.0, 1.0);
                    out[next] = self.from + (bin as f64 + inside) * self.step;
                    next += 1;
                }
                if next == N {
                    return Some(out);
                }
                below = upto;
            }
        }
        Some(out)
    }

    /// Values counted.
    pub(crate) fn total(&self) -> u64 {
        self.total
    }

    pub(crate) fn reset(&mut self) {
        self.counts.fill(0);
        self.groups.fill(0);
        self.total = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_a_ramp_lie_within_half_a_bin() {
        let mut histogram = Histogram::new(-10.0, 50.0, 0.05);
        assert_eq!(histogram.quantiles([0.5]), None);
        for i in 0..=1000 {
            histogram.add(f64::from(i) * 0.03);
        }
        let [low, median, high] = histogram.quantiles([0.1, 0.5, 0.9]).expect("not empty");
        assert!((low - 3.0).abs() < 0.05 && (median - 15.0).abs() < 0.05, "{low} {median}");
        assert!((high - 27.0).abs() < 0.05, "{high}");
    }

    #[test]
    fn values_outside_the_range_go_to_the_ends() {
        let mut histogram = Histogram::new(0.0, 10.0, 1.0);
        histogram.add(-5.0);
        histogram.add(500.0);
        let [low, high] = histogram.quantiles([0.0, 1.0]).expect("not empty");
        assert!(low <= 1.0 && high >= 9.0, "{low} {high}");
    }

    /// By definition: shifted, and with one taken back, it is what it would be of such values; what leaves the range
    /// stays at its end.
    #[test]
    fn values_are_shifted_and_taken_back() {
        let values = [-3.3, -1.1, 0.2, 0.2, 1.7, 2.9, 4.4];
        for by in [0.0, 0.5, -0.5, 3.0, -3.0, 7.5, -7.5, 40.0, -40.0] {
            let mut got = Histogram::new(-5.0, 5.0, 0.1);
            let mut want = got.clone();
            got.add(1.25);
            for value in values {
                got.add(value + 0.05);
                want.add((value + 0.05 + by).clamp(-4.95, 4.95));
            }
            got.remove(1.25);
            got.shift(by);
            assert_eq!(got.counts, want.counts, "{by}");
            assert_eq!((got.groups, got.total), (want.groups, want.total), "{by}");
        }
    }
}

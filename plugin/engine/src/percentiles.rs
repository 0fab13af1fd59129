//! A table of percentiles.

/// Steps of a table: every 5 %, both ends included.
pub const PERCENTILES: usize = 21;

/// How a reading is spread over records: its value at 0, 5, ..., 100 % of them, rising.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Percentiles(pub [f64; PERCENTILES]);

impl Percentiles {
    /// Value under which `percent` of the records lie (0 to 100), by straight-line interpolation
    /// between the steps.
    #[must_use]
    pub fn at(&self, percent: f64) -> f64 {
        let last = PERCENTILES - 1;
        let at = (percent / 100.0).clamp(0.0, 1.0) * last as f64;
        let low = (at as usize).min(last - 1);
        self.0[low] + (at - low as f64) * (self.0[low + 1] - self.0[low])
    }

    /// Share of the records that lie under `value`, 0 to 100 %: the inverse of [`Percentiles::at`],
    /// and the middle of the steps where several have that value. 0 or 100 beyond the ends.
    #[must_use]
    pub fn of(&self, value: f64) -> f64 {
        let step = 100.0 / (PERCENTILES - 1) as f64;
        let under = self.0.iter().take_while(|v| **v < value).count();
        let same = self.0[under..].iter().take_while(|v| **v == value).count();
        if same > 0 {
            return (under as f64 + (same - 1) as f64 / 2.0) * step;
        }
        if under == 0 || under == PERCENTILES {
            return if under == 0 { 0.0 } else { 100.0 };
        }
        let (low, high) = (self.0[under - 1], self.0[under]);
        (under as f64 - 1.0 + (value - low) / (high - low)) * step
    }

    /// The middle eight tenths: 10th and 90th percentile.
    #[must_use]
    pub fn usual(&self) -> (f64, f64) {
        (self.at(10.0), self.at(90.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a value spread evenly from 0 to 100 lies at itself.
    #[test]
    fn an_even_spread_is_read_as_itself() {
        let even = Percentiles(std::array::from_fn(|i| 5.0 * i as f64));
        for percent in [0.0, 2.5, 5.0, 33.0, 50.0, 99.0, 100.0] {
            assert!((even.at(percent) - percent).abs() < 1e-9);
            assert!((even.of(percent) - percent).abs() < 1e-9);
        }
        assert_eq!((even.of(-1.0), even.of(101.0)), (0.0, 100.0));
        assert_eq!(even.usual(), (10.0, 90.0));
    }

    /// Of records of which half have the same value, such as no reduction at all, that value lies in
    /// the middle of them.
    #[test]
    fn a_value_that_many_have_lies_in_their_middle() {
        let half = Percentiles(std::array::from_fn(|i| (i as f64 - 10.0).max(0.0)));
        assert!((half.of(0.0) - 25.0).abs() < 1e-9, "{}", half.of(0.0));
        assert!((half.of(1.0) - 55.0).abs() < 1e-9);
        assert_eq!(half.of(-0.1), 0.0);
    }
}

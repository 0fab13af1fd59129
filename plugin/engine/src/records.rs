//! Where a mix lies among finished records of other people.
//!
//! A record that is out says nothing of how a mix should be; it says what is usual. The figures stand
//! in [`thresholds::records`](crate::thresholds::records) with the packages that they come from.

pub use crate::percentiles::{PERCENTILES, Percentiles};
use crate::spectrum::THIRDS;
use crate::thresholds::records as t;

/// Share of the records with drums whose median hit contrast lies under `db`, %.
#[must_use]
pub fn contrast_percentile(db: f64) -> f64 {
    t::CONTRAST_DB.of(db)
}

/// How weak the mids of a mix are among records.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AmongRecords {
    /// Share of the records whose mids are less weak, 0 to 100 %.
    pub percentile: f64,
    /// Whether the dip is what is more unusual; the lifted lows and highs otherwise.
    pub dipped: bool,
    /// By how much that one exceeds the middle of the records, dB; negative under it.
    pub over_middle_db: f64,
}

impl AmongRecords {
    /// Of a mix whose mids have a dip of `dip_db` and whose lows and highs are lifted by `lift_db`, as
    /// in [`Mids`](crate::Mids).
    #[must_use]
    pub fn of(dip_db: f64, lift_db: f64) -> Self {
        let [dip, lift] = unusual([dip_db, lift_db], [&t::DIP_DB, &t::LIFT_DB]);
        let dipped = dip >= lift;
        let over_middle_db =
            if dipped { dip_db - t::DIP_DB.at(50.0) } else { lift_db - t::LIFT_DB.at(50.0) };
        Self { percentile: t::MIDS.of(weak([dip, lift])), dipped, over_middle_db }
    }
}

/// How weak the mids are by dip and lift on the scale of [`unusual`]: the larger of both, softened, so
/// that a dip in a mix of little bass and treble counts for less.
#[must_use]
pub fn weak([dip, lift]: [f64; 2]) -> f64 {
    (dip.exp() + lift.exp()).ln()
}

/// Dip and lift on one scale: 0 in the middle of the records, 1 where 95 % of them lie under it.
#[must_use]
pub fn unusual(values_db: [f64; 2], records_db: [&Percentiles; 2]) -> [f64; 2] {
    std::array::from_fn(|i| {
        let middle = records_db[i].at(50.0);
        (values_db[i] - middle) / (records_db[i].at(95.0) - middle)
    })
}

/// Share of the records that have less of each third octave against the published curve, %, for
/// deviations as [`over_curve_db`](crate::over_curve_db) gives them. `None` where the deviation is.
#[must_use]
pub fn thirds_percentiles(over_curve_db: &[Option<f64>; THIRDS]) -> [Option<f64>; THIRDS] {
    std::array::from_fn(|index| over_curve_db[index].map(|db| t::THIRDS_DB[index].of(db)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: of two that are alike the softened larger one is `ln 2` over both, and where one is
    /// far under the other it is the other.
    #[test]
    fn the_larger_of_two_is_softened() {
        assert!((weak([1.0, 1.0]) - 1.0 - 2f64.ln()).abs() < 1e-12);
        assert!((weak([1.0, -40.0]) - 1.0).abs() < 1e-12);
        assert_eq!(weak([0.3, 0.7]), weak([0.7, 0.3]));
    }
}

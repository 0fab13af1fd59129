//! Decibels: the one place where a ratio becomes a level and back.

/// Level of a ratio of powers, dB: minus infinity for none.
#[must_use]
pub fn power_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Ratio of powers of a level, dB.
#[must_use]
pub fn power_ratio(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

/// Level of a ratio of magnitudes, dB: minus infinity for none.
#[must_use]
pub fn magnitude_db(ratio: f64) -> f64 {
    20.0 * ratio.log10()
}

/// Ratio of magnitudes of a level, dB.
#[must_use]
pub fn magnitude_ratio(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

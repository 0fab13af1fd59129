//! Loudness of a K-weighted mean square, and back.

use crate::decibels::{power_db, power_ratio};

/// Offset that makes a 997 Hz full-scale sine in one channel read -3.01 LUFS, dB: BS.1770-5.
const OFFSET_DB: f64 = -0.691;

/// Loudness, LUFS, of a K-weighted mean square (summed over channels).
#[must_use]
pub fn lufs(power: f64) -> f64 {
    OFFSET_DB + power_db(power)
}

/// K-weighted mean square that has this loudness, LUFS.
#[must_use]
pub fn power_of_lufs(lufs: f64) -> f64 {
    power_ratio(lufs - OFFSET_DB)
}

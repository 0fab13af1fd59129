//! Windows and limits of the comparison of main and side-chain.

/// Milliseconds of one level ratio and of one point of the reduction curve. Ours: a momentary
/// hop; a limiter's gain moves little within it.
pub(crate) const RATIO_MS: u64 = 10;
/// Fewest moments behind a constant gain. Ours: half a second.
pub(crate) const GAIN_LEAST_MOMENTS: u64 = 50;
/// Share of moments that make a crowd. Ours: a limiter that rests for less than 3 % of the time
/// shows no constant gain.
pub(crate) const GAIN_CROWD_SHARE: f64 = 0.03;
/// Furthest that the middle of a crowd lies under its upper edge, dB. Ours: the level ratio of a
/// lossy codec wobbles by as much.
pub(crate) const GAIN_SPREAD_DB: f64 = 0.4;
/// Half of the 90 % range of a constant gain that stands still, dB. Ours: a crowd's width.
pub(crate) const GAIN_RANGE_DB: f64 = 0.1;
/// Loudness under the programme's at which a moment's level ratio no longer counts, LU. Ours:
/// noise of 20 dB under the programme would weigh in.
pub(crate) const RATIO_GATE_LU: f64 = 15.0;
/// Difference of the constant gain between two bands from which something other than a gain lies
/// between, dB. Ours.
pub const EQUALISED_DB: f64 = 0.5;
/// Change of the delay, frames, within which the aligned stream goes on. Ours: half a millisecond
/// at 48 kHz.
pub(crate) const SAME_LAG: i64 = 24;
/// Fewest hits compared before the ceiling is read from the comparison. Ours.
pub const COMPARED_LEAST_HITS: u64 = 8;
/// Reduction of a hit that a constant gain explains as well, dB. Ours: its range.
pub const REDUCED_DB: f64 = 0.3;

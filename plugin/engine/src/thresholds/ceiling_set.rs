//! What is read of the hits of a window as a set, each with its unit and its source.

/// Share of the hits whose peaks lie under the top of a window. Ours, as in the evidence.
pub const TOP_SHARE: f64 = 0.97;
/// Distance from the top at which a hit has reached it, dB. Ours, as in the evidence.
pub const TOP_NEAR_DB: f64 = 0.3;
/// Longest time since a hit reached the top that is told apart, s. Ours: slow limiters have let go by then.
pub const TOP_LONG_AGO_S: f64 = 3.0;

//! Words of the editor's own: section titles and empty states.

/// Title of the area that shows the hits.
pub const HITS: &str = "Hits";
/// Title of the leaks.
pub const LEAKS: &str = "Leaks";
/// Title of the low/mid/high balance.
pub const BALANCE: &str = "Balance";
/// Title of the side-chain's panel.
pub const COMPARE: &str = "Compare";
/// Title of the loudness readings.
pub const READINGS: &str = "Readings";
/// Shown while there are no hits.
pub const NO_HITS: &str = "No hits yet: play the song";
/// Shown while nothing has been measured.
pub const NO_READINGS: &str = "Nothing measured yet";
/// The side-chain carries nothing. A silent one and an unconnected one look alike from here.
pub const SIDE_NO_SIGNAL: &str = "Side-chain: no signal";
/// The side-chain carries a signal.
pub const SIDE_SIGNAL: &str = "Side-chain: signal";
/// The button that starts all measurements afresh.
pub const RESET: &str = "Reset";
/// Hits or history points that the editor could not take in time.
pub const DROPPED: &str = "dropped";

//! Windows and limits of what a part sounds like, each with its unit and its source.

/// Cells of a frame whose level is read. Ours: 10 ms, as for the level of a hit.
pub const FRAME_CELLS: usize = 10;
/// How far under the loudest frames (their 99th percentile) a frame still plays, dB. Ours: tails of
/// strokes are in, hum and bleed are not.
pub const PLAYING_DB: f64 = 30.0;
/// Least frames that play before anything is said. Ours: 3 s.
pub const LEAST_FRAMES: usize = 300;
/// Fewest onsets before anything is said. Ours: two bars of quarters, as for a part's rhythm.
pub const LEAST_ONSETS: usize = 8;
/// Floor of a band under the loudest frames, dB. Ours: what lies lower says nothing of a role.
pub const FLOOR_DB: f64 = 60.0;
/// Cells behind an onset that are its attack. Ours: 30 ms, as for the level of a hit.
pub const ATTACK_CELLS: usize = 30;
/// Middles of the windows behind an onset in which its fall is read, cells. Ours.
pub const FALL_AT: [usize; 2] = [70, 170];
/// Half of such a window, cells. Ours.
pub const FALL_HALF: usize = 15;
/// Fewest onsets for a median over them. Ours.
pub const LEAST_FALLS: usize = 4;
/// Cells of the window in which a period is looked for. Ours: three periods of the lowest bass.
pub const PERIOD_CELLS: usize = 100;
/// Shortest and longest period, cells. Ours: 40 to 330 Hz, the strings of bass and guitar.
pub const PERIODS: [usize; 2] = [3, 25];
/// How far under the loudest frames the attack of an onset counts, dB. Ours: ghost notes are in.
pub const STROKE_DB: f64 = 20.0;
/// Least natural logarithm of the odds for a suggestion of drums, bass and guitars. Ours: so that on
/// stems of the fit, left out in turn, 1 to 4 in 100 suggestions of each are wrong.
pub const LEAST_LOG_ODDS: [f64; 3] = [0.0, 0.0, 0.8];
/// From here a suggestion is called nearly sure. Ours: 50 to 1.
pub const NEARLY_SURE_LOG_ODDS: f64 = 3.9;

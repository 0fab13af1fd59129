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
/// Change from one moment to the next under which a level ratio stands still, dB. Ours: a release of half a
/// second changes by more until it is within 0.1 dB of its end.
pub(crate) const GAIN_STILL_DB: f64 = 0.002;
/// Fewest moments at which it stands still at one height for a rest. Ours: 40 ms.
pub(crate) const GAIN_REST_MOMENTS: u32 = 4;
/// Share of the moments at that height that stand still. Ours: behind a codec one in a hundred does.
pub(crate) const GAIN_REST_SHARE: f64 = 0.25;
/// Share of the moments that may lie over a rest. Ours: attacks that fall on a moment's border.
pub(crate) const GAIN_OVER_REST: f64 = 0.001;
/// How many times as many moments a crowd has as the one 0.8 dB under it, for it to be a rest and no
/// slope. Ours: halfway between both on a scale of decibels, on seven songs of other code.
pub(crate) const GAIN_STANDS_OUT: f64 = 1.5;
/// How far a ratio may lie off the line through the two before and be smooth, dB. Ours: a release bends by
/// less in 10 ms.
pub(crate) const GAIN_SMOOTH_DB: f64 = 0.02;
/// Share of the moments that are smooth where both streams differ by a changing gain and nothing else.
/// Ours: on songs of other code 17 to 36 % behind limiters and clippers, 2 to 5 % behind a codec or an
/// equaliser.
pub(crate) const GAIN_SMOOTH_SHARE: f64 = 0.1;
/// How far the gain may lie over what is seen of a limiter that never rests, dB. Ours: on four of those
/// songs 0.1 to 1.8 dB, driven 4 and 8 dB into releases of 0.3 s and of two stages.
pub(crate) const GAIN_UNSEEN_DB: f64 = 2.0;
/// Moments of a stretch in which the constant gain is watched for a change. Ours: three seconds, in which a limiter
/// that rests at all does so.
pub(crate) const GAIN_WATCH_MOMENTS: u64 = 300;
/// Share of the moments that may lie over a rest there. Ours: in so short a stretch an attack on a moment's border is a
/// larger part.
pub(crate) const GAIN_WATCH_OVER: f64 = 0.02;
/// Fewest moments of a stretch at which the ratio stands still for a rest. Ours: 0.3 s; a limiter whose release
/// depends on the programme stands still for shorter, and elsewhere each time.
pub(crate) const GAIN_WATCH_REST: u32 = 30;
/// Change of the constant gain that is one, dB. Ours: what a hit's reduction is told from.
pub(crate) const GAIN_CHANGED_DB: f64 = 0.3;
/// Loudness under the programme's at which a moment's level ratio no longer counts, LU. Ours:
/// noise of 20 dB under the programme would weigh in.
pub(crate) const RATIO_GATE_LU: f64 = 15.0;
/// Difference of the constant gain between two bands from which something other than a gain lies
/// between, dB. Ours.
pub const EQUALISED_DB: f64 = 0.5;
/// Change of the delay, frames, within which the aligned stream goes on. Ours: half a millisecond
/// at 48 kHz.
pub(crate) const SAME_LAG: i64 = 24;
/// Cells, ms, at another lag from which what was compared before is forgotten. Ours: music that repeats to the sample fits
/// at another lag as well, for a while.
pub(crate) const MOVED_MS: u64 = 3_000;
/// Cells, ms, in which the side-chain was another programme from which what was compared before is forgotten. Ours: for
/// shorter a hard limiter leaves in doubt whether both are one.
pub(crate) const STRAYED_MS: u64 = 10_000;
/// Fewest hits compared before the ceiling is read from the comparison. Ours.
pub const COMPARED_LEAST_HITS: u64 = 8;
/// Reduction of a hit that a constant gain explains as well, dB. Ours: its range.
pub const REDUCED_DB: f64 = 0.3;
/// Lowest sample rate of a file that a mix is compared with, Hz, unless the mix's own is lower: what is missing at
/// the top would read as a difference. Ours: as low as that of a mix whose mids are judged.
pub const COMPARE_RATE_HZ: f64 = 36_000.0;

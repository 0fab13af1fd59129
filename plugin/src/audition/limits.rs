//! Every limit of the audition, with its unit and its source.

/// Largest boost and largest cut of the side-chain, dB. Ours (design): a mix and its unlimited
/// version, or two masters, seldom lie further apart, and a wrong match must not be able to hurt.
pub const MAX_GAIN_DB: f64 = 12.0;
/// Fastest change of a gain that can be heard, dB a second. Ours: slower than a hand on a fader,
/// and a step of 1e-4 dB a frame.
pub const GAIN_RAMP_DB_PER_S: f64 = 6.0;
/// Difference to the match from which a gain that is heard is moved, dB. Ours: half the error
/// allowed to the match, so that the gain does not wander while two versions are compared.
pub const GAIN_SLACK_DB: f64 = 0.05;
/// Length of the equal-power switch, ms. With the guard's look-ahead of [`LOOK_AHEAD_MS`] and
/// eleven frames it ends within the 20 ms allowed to it (ours, design).
pub const SWITCH_MS: f64 = 17.0;
/// Time that the guard looks ahead, ms. Ours: a shorter one would bend the wave of a drum hit
/// audibly, a longer one would make the switch late.
pub const LOOK_AHEAD_MS: f64 = 1.0;
/// Time constant of the guard's return, ms. Ours: between two hits of fast sixteenths.
pub const RELEASE_MS: f64 = 80.0;
/// Highest true peak of what is heard in place of the mix while it is boosted, and of the
/// difference, dBTP. The level that EBU R 128 (2023) allows a production.
pub const CEILING_DBTP: f64 = -1.0;
/// Highest true peak while it is not boosted, dBTP. Ours: full scale, so that a reference plays
/// as it was mastered and a feed over full scale does not clip behind Brunt.
pub const FULL_SCALE_DBTP: f64 = 0.0;
/// What the guard keeps under its ceiling, dB. Ours: the gain moves while it interpolates; the
/// largest overshoot measured on noise and drums is under half of this.
pub const GUARD_MARGIN_DB: f64 = 0.1;
/// Reduction from which the guard is said to act, dB. Ours: less is not heard.
pub const GUARD_ACTS_DB: f64 = 0.1;
/// Time for which a reduction stays on display, s. Ours: long enough to be read.
pub const GUARD_HOLD_S: f64 = 1.0;
/// Length of a step of the passage, s: the step of gating blocks in ITU-R BS.1770-5.
pub const STEP_S: f64 = 0.1;
/// Longest passage, in steps: 60 s. Ours: a verse and a chorus; what was heard longer ago says
/// little about the place that is compared now.
pub const PASSAGE_STEPS: usize = 600;
/// Common programme from which a match counts, in steps: 3 s, the short-term window of EBU Tech
/// 3341. Before that a louder side-chain is turned down, and a quieter one is not turned up.
pub const SURE_STEPS: usize = 30;
/// Jump of the host's song position that is a jump and not rounding, s. Ours: far over the
/// rounding of a position in beats, far under a sixteenth.
pub const JUMP_S: f64 = 0.005;
/// Longest delay that can be evened out, s: what the alignment looks for (ours, design).
pub const MAX_DELAY_S: f64 = 2.0;
/// Least change of the delay that is followed, frames. Ours: 0.05 frames leave a residue of
/// -36 dB at a quarter of the sample rate and less below; a steadier estimate would not be heard.
pub const DELAY_SLACK: f64 = 0.05;
/// Programme from which the correlation at a switch is told, frames; the newest ones. Ours: a
/// bounded piece of work, 21 ms at 48 kHz.
pub const CORRELATION_FRAMES: usize = 1024;

/// Largest magnitude that is heard besides the mix, linear. Ours: 120 dB over full scale is no
/// audio any more, and sums of numbers near the end of the range would come to no number.
pub const MOST: f32 = 1e6;

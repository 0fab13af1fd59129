//! How loud parts lie in the mix: limits of the fit, each with its unit and its source.

/// Least programme that mix and parts must have in common, s. Ours: some bars.
pub const LEAST_S: f64 = 5.0;
/// Most stretches that are compared; of more, each so many'th. Ours: a minute of 100 ms.
pub const STRETCHES_MOST: usize = 600;
/// Share of the mix's mean power in a band under which a stretch weighs no more for being quiet. Ours:
/// -20 dB.
pub const QUIET_SHARE: f64 = 0.01;
/// Weight of the assumption that a part lies in the mix at the level of all parts together, as a share
/// of its own power: decides only where two parts always play together. Ours.
pub const RIDGE: f64 = 0.002;
/// Sweeps over the parts in which the levels settle. Ours: twenty parts settle in fifty.
pub const SWEEPS: usize = 200;
/// Most that the parts leave of the mix or have beyond it, mean square as a share of the mix's, for the
/// levels to be known. Ours: a mix of other parts leaves more than this.
pub const LEFT_MOST: f64 = 0.2;
/// Pieces of the song of which each is left out in turn, to see what hangs on it. Ours.
pub const PIECES: usize = 8;
/// Least power gain of a part. Ours: 60 dB under what it came as, it is in no mix.
pub const GAIN_LEAST: f64 = 1e-6;
/// A part that lies this near to the middle one counts as it came, dB. Ours: less than this a fader
/// changes no cost that is worth a word.
pub const SAME_DB: f64 = 2.0;
/// Multiple of its doubt that a part's level must be off by to count. Ours: 99.7 % of a normal error.
pub const DOUBTS: f64 = 3.0;
/// Doubt of a part that its lows alone tell of, dB. Ours: low notes that strike together add up in more or
/// less than power; of nine basses that lie in the mix as they came, eight were found up to 1.3 dB off and one
/// 3.3.
pub const LOWS_DOUBT_DB: f64 = 1.2;

//! How loud parts lie in the mix: limits of the fit, each with its unit and its source.

/// Least programme that mix and parts must have in common, s. Ours: some bars.
pub const LEAST_S: f64 = 5.0;
/// Most stretches that are compared; of more, each so many'th. Ours: two minutes of 100 ms.
pub const STRETCHES_MOST: usize = 1_200;
/// Share of the mix's mean power under which a stretch weighs no more for being quiet. Ours: -20 dB.
pub const QUIET_SHARE: f64 = 0.01;
/// Weight of the assumption that a part lies in the mix at the level of all parts together, as a share
/// of its own power: decides only where two parts always play together. Ours.
pub const RIDGE: f64 = 0.002;
/// Sweeps over the parts in which the levels settle. Ours: twenty parts settle in fifty.
pub const SWEEPS: usize = 200;
/// Most that the parts leave of the mix or have beyond it, mean square as a share of the mix's, for the
/// levels to be known. Ours: sessions of two generators leave 0.005 to 0.018, a mix of
/// other parts more than this.
pub const LEFT_MOST: f64 = 0.2;
/// Least power gain of a part. Ours: 60 dB under what it came as, it is in no mix.
pub const GAIN_LEAST: f32 = 1e-6;
/// Levels that lie so near to one another are those that the parts came at, dB. Ours: a bass and a guitar that
/// strike together on one note do not add up in power alone, and were found up to 3.3 dB apart that are not.
pub const SAME_DB: f64 = 4.0;

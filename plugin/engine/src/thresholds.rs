//! Every threshold and window of the measurements, each with its unit and its source.

/// Length of the window before a hit that counts as its surroundings, ms. Ours (design).
pub const SURROUND_BEFORE_MS: f64 = 400.0;
/// End of the sustained part after a hit that counts as its surroundings, ms. Ours: at 120 beats
/// a minute an eighth lasts 250 ms.
pub const SURROUND_AFTER_MS: f64 = 250.0;
/// Start of the sustained part after a hit, ms. Ours: drum attacks are over by then.
pub const SUSTAIN_FROM_MS: f64 = 80.0;
/// The part of a hit whose loudest 10 ms is its level, ms. Ours (design).
pub const HIT_LEVEL_MS: f64 = 30.0;
/// The part of a hit whose largest true peak is its peak, ms. Ours.
pub const HIT_PEAK_MS: f64 = 50.0;
/// Crossover between low and mid, Hz. Ours: small speakers drop off below about 150-300 Hz
/// (common practice, no source), and the published curve is anchored at 200 Hz (Elowsson &
/// Friberg 2017).
pub const LOW_MID_HZ: f64 = 200.0;
/// Crossover between mid and high, Hz. Ours: the spread between commercial tracks is smallest
/// from 200 Hz to 4 kHz (Elowsson & Friberg 2017), so that is the mid to be judged.
pub const MID_HIGH_HZ: f64 = 4_000.0;

/// Limits at which a leak's cost changes the leak's state. They can be set while running.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// Cost from which a leak is [`Watch`](crate::State::Watch), dB of hit contrast.
    pub watch_db: f64,
    /// Cost from which a leak is [`Leaking`](crate::State::Leaking), dB of hit contrast.
    pub leaking_db: f64,
}

impl Default for Thresholds {
    /// 1 dB and 2 dB: about one and two just noticeable differences in the level of a loud
    /// broadband sound (common practice, no source).
    fn default() -> Self {
        Self { watch_db: 1.0, leaking_db: 2.0 }
    }
}

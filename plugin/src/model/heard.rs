//! What is heard in place of the mix, and how that stands.

/// What is heard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Heard {
    /// The mix, untouched.
    #[default]
    Mix,
    /// The side-chain at the mix's loudness.
    Side,
    /// The side-chain at the mix's loudness, less the mix.
    Difference,
}

/// Why only the mix is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Held {
    /// The plug-in is bypassed.
    Bypassed,
    /// The host renders offline: nothing but the mix may be printed.
    Offline,
    /// The host gives no side-chain, or its role is off.
    NoSide,
    /// The difference is asked for, and the side-chain is not the mix ahead of the limiter.
    NotBefore,
    /// The audition's own code has failed. Activating the plug-in anew clears it.
    Failed,
}

/// Loudness of both buses over the same passage.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Match {
    /// Integrated loudness of the mix, LUFS.
    pub mix_lufs: f64,
    /// Integrated loudness of the side-chain, LUFS.
    pub side_lufs: f64,
    /// Length of the passage in which both were heard, s.
    pub passage_s: f64,
    /// Whether that is enough to turn the side-chain up.
    pub sure: bool,
}

impl Match {
    /// Gain that brings the side-chain to the mix's loudness, dB.
    #[must_use]
    pub fn gain_db(&self) -> f64 {
        self.mix_lufs - self.side_lufs
    }
}

/// How the audition stands, for display.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Status {
    /// What is heard, or is coming up.
    pub heard: Heard,
    /// Gain of the side-chain now, dB; `None` until both buses have been heard at once.
    pub gain_db: Option<f64>,
    /// Loudness of both over the passage.
    pub found: Option<Match>,
    /// How far the gain had to go beyond its bound of 12 dB, LU; 0 within.
    pub out_of_reach_lu: f64,
    /// Largest reduction by the guard in the last second, dB; `None` where it does not act.
    pub guard_db: Option<f64>,
}

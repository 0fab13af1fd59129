//! What all of the song stands on: its names, its measures and its versions.

/// The invented band.
pub const BAND: &str = "Nine Slow Ferries";
/// The invented song.
pub const TITLE: &str = "Lantern Weight";
/// Sample rate of the session, Hz.
pub const SAMPLE_RATE_HZ: u32 = 48_000;
/// Tempo, beats (quarters) a minute.
pub const TEMPO_BPM: f64 = 112.0;
/// Length of the session, s: a bar to count in, sixteen bars of 4/4, a last chord and its ring.
pub const DURATION_S: f64 = 40.0;

/// What was done to the song. All but [`Version::Clean`] cost punch, each in one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Version {
    /// Tight playing, moderate gain, a balance near the published long-term curve, no limiter.
    Clean,
    /// The clean mix 7 dB hotter into a look-ahead limiter.
    Ceiling,
    /// Both guitars and the bass 10 to 30 ms early or late, and unsteady.
    Timing,
    /// Two more rhythms and two sustained layers between the hits.
    Clutter,
    /// The guitars' gain 26 dB up.
    Drive,
    /// The clean mix with shelves near 60 Hz and 12 kHz up and the mids scooped.
    Mids,
}

impl Version {
    /// All versions, the clean one first.
    pub const ALL: [Self; 6] =
        [Self::Clean, Self::Ceiling, Self::Timing, Self::Clutter, Self::Drive, Self::Mids];

    /// One word, for file names and tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Ceiling => "ceiling",
            Self::Timing => "timing",
            Self::Clutter => "clutter",
            Self::Drive => "drive",
            Self::Mids => "mids",
        }
    }

    /// What was done to the song, in a few words.
    #[must_use]
    pub fn what(self) -> &'static str {
        match self {
            Self::Clean => "the mix as it should be, no limiter",
            Self::Ceiling => "7 dB hotter into a look-ahead limiter",
            Self::Timing => "guitars and bass 10-30 ms off, and unsteady",
            Self::Clutter => "two more rhythms and two sustained layers",
            Self::Drive => "guitar gain 26 dB up",
            Self::Mids => "60 Hz and 12 kHz shelved up, mids scooped",
        }
    }
}

/// Seconds to frames, rounded.
pub fn frames(seconds: f64) -> usize {
    (seconds * f64::from(SAMPLE_RATE_HZ)).round().max(0.0) as usize
}

/// Decibels to a factor.
pub fn db(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

//! The meter: one main bus, one side-chain, all measurements.

use crate::{Config, ConfigError, Readings, Sink, Thresholds};

/// Number of hits in the recent set.
pub const RECENT_HITS: usize = 32;

/// Measures a stream. See the crate's head for what it promises.
#[derive(Debug)]
pub struct Meter {
    config: Config,
    thresholds: Thresholds,
    readings: Readings,
}

impl Meter {
    /// Builds a meter. The only call that allocates.
    ///
    /// # Errors
    /// [`ConfigError`] when a field of `config` is out of range.
    pub fn new(config: Config) -> Result<Self, ConfigError> {
        config.validate()?;
        Ok(Self { config, thresholds: Thresholds::default(), readings: Readings::default() })
    }

    /// What the meter was built for.
    #[must_use]
    pub fn config(&self) -> Config {
        self.config
    }

    /// Sets the limits of the leaks' states; they act from the next 100 ms on.
    pub fn set_thresholds(&mut self, thresholds: Thresholds) {
        self.thresholds = thresholds;
    }

    /// Measures one block.
    ///
    /// `main` holds one slice a channel, [`Config::channels`] of them, all of one length (from 0
    /// frames up). `side` is the side-chain, one or two channels of the same length, or `None`.
    /// Extra channels and unequal lengths are cut to the shortest; missing channels count as
    /// silence.
    pub fn process(&mut self, main: &[&[f32]], side: Option<&[&[f32]]>, sink: &mut dyn Sink) {
        let _ = (main, side, sink);
    }

    /// Ends the programme: gives out the hits whose surroundings are cut short by its end, and
    /// brings the readings up to date. For files; a live meter need not call it.
    pub fn finish(&mut self, sink: &mut dyn Sink) {
        let _ = sink;
    }

    /// Forgets everything measured, as if just built. Thresholds stay.
    pub fn reset(&mut self) {
        self.readings = Readings::default();
    }

    /// Everything measured since the last reset. Loudness and peaks are brought up to date every
    /// 10 ms, the rest every 100 ms of programme.
    #[must_use]
    pub fn readings(&self) -> &Readings {
        &self.readings
    }
}

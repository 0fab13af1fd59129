//! What a meter is built for: the sample rate and the channel count.

use std::fmt;

/// Lowest sample rate, Hz, that a [`Meter`](crate::Meter) accepts.
pub const MIN_SAMPLE_RATE_HZ: f64 = 8_000.0;
/// Highest sample rate, Hz, that a [`Meter`](crate::Meter) accepts.
pub const MAX_SAMPLE_RATE_HZ: f64 = 384_000.0;
/// Most channels of one bus: mono or stereo.
pub const MAX_CHANNELS: usize = 2;

/// The stream that a [`Meter`](crate::Meter) is built for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Config {
    /// Sample rate, Hz, [`MIN_SAMPLE_RATE_HZ`] to [`MAX_SAMPLE_RATE_HZ`].
    pub sample_rate_hz: f64,
    /// Channels of the main bus: 1 or 2.
    pub channels: usize,
}

/// Why a [`Config`] was refused.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ConfigError {
    /// The sample rate, Hz, is outside the accepted range or not a number.
    SampleRate(f64),
    /// The channel count is neither 1 nor 2.
    Channels(usize),
}

impl Config {
    /// Checks both fields against the accepted ranges.
    ///
    /// # Errors
    /// [`ConfigError`] names the first field out of range with its value.
    pub fn validate(&self) -> Result<(), ConfigError> {
        if !(MIN_SAMPLE_RATE_HZ..=MAX_SAMPLE_RATE_HZ).contains(&self.sample_rate_hz) {
            return Err(ConfigError::SampleRate(self.sample_rate_hz));
        }
        if !(1..=MAX_CHANNELS).contains(&self.channels) {
            return Err(ConfigError::Channels(self.channels));
        }
        Ok(())
    }
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SampleRate(got) => write!(
                f,
                "sample rate {got} Hz: expected {MIN_SAMPLE_RATE_HZ} to {MAX_SAMPLE_RATE_HZ} Hz"
            ),
            Self::Channels(got) => {
                write!(f, "{got} channels: expected 1 to {MAX_CHANNELS}")
            }
        }
    }
}

impl std::error::Error for ConfigError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_range_is_named_with_its_value() {
        let said = |sample_rate_hz, channels| {
            Config { sample_rate_hz, channels }.validate().map_err(|e| e.to_string())
        };
        assert_eq!(said(MIN_SAMPLE_RATE_HZ, 1), Ok(()));
        assert_eq!(said(MAX_SAMPLE_RATE_HZ, MAX_CHANNELS), Ok(()));
        for channels in [0, MAX_CHANNELS + 1] {
            let want = format!("{channels} channels: expected 1 to 2");
            assert_eq!(said(48_000.0, channels), Err(want));
        }
        for rate in [MIN_SAMPLE_RATE_HZ - 1.0, MAX_SAMPLE_RATE_HZ + 1.0, f64::NAN] {
            let error = said(rate, 2).expect_err("out of range");
            assert!(
                error.starts_with(&format!("sample rate {rate} Hz: expected 8000 to")),
                "{error}"
            );
        }
    }
}

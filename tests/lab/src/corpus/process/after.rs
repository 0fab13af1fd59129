//! What happens to a master after the limiter: a fader, a bit depth, a codec, another rate.

use super::external::{ffmpeg, fit, through};
use crate::corpus::audio::db;
use crate::corpus::{CorpusError, Stereo, cache};
use std::path::Path;

/// A step of after-processing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum After {
    /// A plain gain, dB.
    Fader(f64),
    /// Rounding to 16 bits without dither.
    Bits16,
    /// MP3 at 128 kb/s and back.
    Mp3,
    /// AAC at 128 kb/s and back.
    Aac,
    /// Opus at 128 kb/s and back.
    Opus,
    /// Conversion to the other of 44.1 and 48 kHz; the result stays there.
    OtherRate,
}

impl After {
    /// Name for tables.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::Fader(level) => format!("fader{level:+.1}"),
            Self::Bits16 => "16-bit".to_owned(),
            Self::Mp3 => "mp3".to_owned(),
            Self::Aac => "aac".to_owned(),
            Self::Opus => "opus".to_owned(),
            Self::OtherRate => "other-rate".to_owned(),
        }
    }

    /// Applies the step. Length and timing stay (codecs' own delay is taken out by their
    /// containers); only [`After::OtherRate`] changes the rate.
    ///
    /// # Errors
    /// [`CorpusError::Program`] when ffmpeg fails.
    pub fn run(self, input: &Stereo) -> Result<Stereo, CorpusError> {
        match self {
            Self::Fader(level) => {
                let mut out = input.clone();
                out.gain(db(level));
                Ok(out)
            }
            Self::Bits16 => {
                let mut out = input.clone();
                out.map(|x| (x * 32_768.0).round().clamp(-32_768.0, 32_767.0) / 32_768.0);
                Ok(out)
            }
            Self::Mp3 => codec(input, "mp3", &["-c:a", "libmp3lame", "-b:a", "128k"]),
            Self::Aac => codec(input, "m4a", &["-c:a", "aac", "-b:a", "128k"]),
            Self::Opus => codec(input, "opus", &["-c:a", "libopus", "-b:a", "128k"]),
            Self::OtherRate => {
                let rate = if input.rate == 48_000 { 44_100 } else { 48_000 };
                cache::audio(input, &format!("ffmpeg -ar {rate}"), || {
                    through(input, 1.0, |from, to| ffmpeg(from, &["-ar", &rate.to_string()], to))
                })
            }
        }
    }
}

/// A round trip through a file of a lossy codec, back to float at the rate it came from.
fn codec(input: &Stereo, extension: &str, options: &[&str]) -> Result<Stereo, CorpusError> {
    let rate = input.rate.to_string();
    cache::audio(input, &format!("ffmpeg {options:?}"), || {
        let out = through(input, 1.0, |from: &Path, to: &Path| {
            let coded = to.with_extension(extension);
            ffmpeg(from, options, &coded)?;
            ffmpeg(&coded, &["-ar", &rate], to)
        })?;
        Ok(fit(out, input.len(), 1.0))
    })
}

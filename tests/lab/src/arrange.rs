//! Programmed sessions for drive, clutter and the cost of each cause.
//!
//! | what | where |
//! |---|---|
//! | one riff through an amplifier at rising gains | [`gains`] |
//! | locked, scattered and layered arrangements | [`clutter`] |
//! | a clean session, one cause added, and the change of contrast measured | [`causes`] |

pub mod causes;
pub mod clutter;
pub mod draw;
pub mod gains;

use crate::corpus::Stereo;
use crate::session::{Rendered, Stem};
use brunt_engine::parts::PartTrack;
use brunt_engine::{Config, ConfigError};

/// A stem as the engine sees it.
///
/// # Errors
/// [`ConfigError`] when the rate is out of the engine's range.
pub fn track(stem: &Stem) -> Result<PartTrack, ConfigError> {
    PartTrack::measure(stem.role, stem.name, config(&stem.audio), &stem.audio.channels())
}

/// All stems as the engine sees them.
///
/// # Errors
/// As [`track`].
pub fn tracks(session: &Rendered) -> Result<Vec<PartTrack>, ConfigError> {
    session.stems.iter().map(track).collect()
}

fn config(audio: &Stereo) -> Config {
    Config { sample_rate_hz: f64::from(audio.rate), channels: 2 }
}

//! Runs the engine's public meter over a render, as a host would.

use super::Stereo;
use brunt_engine::{Config, ConfigError, Hit, Meter, Readings, THIRDS};

/// What a meter gave for a whole render.
#[derive(Clone, Debug, Default)]
pub struct Measured {
    /// All hits.
    pub hits: Vec<Hit>,
    /// Readings at the end.
    pub readings: Readings,
}

impl Measured {
    /// Times of all hits, s.
    #[must_use]
    pub fn times(&self) -> Vec<f64> {
        self.hits.iter().map(|h| h.time_s).collect()
    }
}

/// Measures a render in blocks of 512 frames.
///
/// # Errors
/// [`ConfigError`] when the render's rate is out of the meter's range.
pub fn measure(audio: &Stereo) -> Result<Measured, ConfigError> {
    measured(audio, None)
}

/// The same with a reference whose third octaves are those, dBFS as in
/// [`Balance`](brunt_engine::Balance).
///
/// # Errors
/// [`ConfigError`] when the render's rate is out of the meter's range.
pub fn measure_beside(
    audio: &Stereo,
    reference: [Option<f64>; THIRDS],
) -> Result<Measured, ConfigError> {
    measured(audio, Some(reference))
}

fn measured(
    audio: &Stereo,
    reference: Option<[Option<f64>; THIRDS]>,
) -> Result<Measured, ConfigError> {
    let mut meter = Meter::new(Config { sample_rate_hz: f64::from(audio.rate), channels: 2 })?;
    if let Some(thirds) = reference {
        meter.assume_reference(thirds);
    }
    let mut hits = Vec::new();
    for (left, right) in audio.left.chunks(512).zip(audio.right.chunks(512)) {
        meter.process(&[left, right], None, &mut hits);
    }
    meter.finish(&mut hits);
    // Hits come in order of their end; order of onset is what scoring needs.
    hits.sort_by_key(|h| h.frame);
    Ok(Measured { hits, readings: *meter.readings() })
}

//! When a one-shot starts.
//!
//! The definition is ours and knows nothing of the engine. The onset is the first sample whose
//! magnitude (larger of both channels) reaches -30 dB of the largest magnitude in the one-shot's
//! first 50 ms. Those 50 ms start where the magnitude first reaches -40 dB of the whole one-shot's
//! peak, so that leading silence and noise do not count. [`Definitions`] says how far other levels
//! would move it.

use super::Stereo;

/// Level of the onset below the peak of the first 50 ms, dB.
pub const ONSET_DB: f64 = -30.0;
/// Length of the part whose peak is the reference, s.
pub const REFERENCE_S: f64 = 0.050;

/// The levels that [`Definitions`] compares, dB below the peak of the first 50 ms.
pub const LEVELS_DB: [f64; 6] = [-50.0, -40.0, -30.0, -20.0, -10.0, 0.0];

/// When a one-shot first reaches each of [`LEVELS_DB`], ms from the file's start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Definitions(pub [f64; 6]);

/// The frame of the onset, or `None` in silence.
#[must_use]
pub fn frame(clip: &Stereo) -> Option<usize> {
    let (_, peak) = reference(clip)?;
    first(clip, peak * super::audio::db(ONSET_DB))
}

/// How far the definitions lie apart for one clip, or `None` in silence.
#[must_use]
pub fn definitions(clip: &Stereo) -> Option<Definitions> {
    let (_, peak) = reference(clip)?;
    let mut times = [0.0; LEVELS_DB.len()];
    for (time, level) in times.iter_mut().zip(LEVELS_DB) {
        *time = first(clip, peak * super::audio::db(level))? as f64 * 1e3 / f64::from(clip.rate);
    }
    Some(Definitions(times))
}

/// Start of the 50 ms that count, and the peak in them.
fn reference(clip: &Stereo) -> Option<(usize, f32)> {
    let peak = clip.peak();
    if peak <= 0.0 {
        return None;
    }
    let start = first(clip, peak * super::audio::db(-40.0))?;
    let end = (start + (REFERENCE_S * f64::from(clip.rate)) as usize).min(clip.len());
    Some((start, (start..end).map(|i| clip.magnitude(i)).fold(0.0, f32::max)))
}

/// First frame at or above `level`; a hair under it, so that the peak itself is found.
fn first(clip: &Stereo, level: f32) -> Option<usize> {
    (0..clip.len()).find(|&i| clip.magnitude(i) >= level * (1.0 - 1e-6))
}

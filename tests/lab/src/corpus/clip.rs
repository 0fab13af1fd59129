//! One event, rendered.

use super::Stereo;

/// An event's clip with its onset at a known frame.
#[derive(Clone, Debug)]
pub struct Clip {
    /// Samples.
    pub audio: Stereo,
    /// Frame of the onset.
    pub onset: usize,
    /// Frame at which the clip reaches -20 dB of the peak of its first 50 ms, a later definition.
    pub onset_20: usize,
    /// The same at -10 dB.
    pub onset_10: usize,
    /// Whether left and right are the same.
    pub mono: bool,
}

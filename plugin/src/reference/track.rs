//! A reference in memory.

/// Longest file that is taken, s. Ours: longer than any song to compare with; two channels of it
/// at 48 kHz take 230 MB.
pub const LONGEST_S: f64 = 600.0;
/// Length of the fades at a track's ends, ms. Ours: long enough not to click where it starts over.
pub(super) const FADE_MS: f64 = 5.0;

/// A reference at the host's rate, ready to be played.
#[derive(Debug)]
pub struct Track {
    /// Both channels, of one length; a mono file is on both.
    pub(super) channels: [Vec<f32>; 2],
}

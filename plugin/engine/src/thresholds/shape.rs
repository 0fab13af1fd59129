//! Windows of the shape of a hit.

/// Window of the level and of the peak in the shape of a hit, ms. Ours: that of a hit's level
/// ([`HIT_LEVEL_MS`](super::HIT_LEVEL_MS)), so that the shape's height is the hit's contrast.
pub const SHAPE_WINDOW_MS: i32 = 10;
/// Distance under the shape's height at which its attack has arrived, dB. Ours: that of
/// [`Hit::attack_ms`](crate::Hit::attack_ms).
pub const ATTACK_WITHIN_DB: f64 = 3.0;
/// Smallest and largest level in a shape, dB over the surroundings; what lies outside counts as that.
/// Ours: 40 dB under and over is silence to the ear in a mix, as for
/// [`CONTRAST_MOST_DB`](super::CONTRAST_MOST_DB).
pub const SHAPE_LEVEL_DB: (f64, f64) = (-40.0, 45.0);
/// The same of peaks. Ours: a crest of 20 dB more.
pub const SHAPE_PEAK_DB: (f64, f64) = (-40.0, 65.0);
/// Share of the hits that a point of the shape must be known of. Ours: the first and the last hit of
/// a passage reach beyond its ends.
pub const SHAPE_LEAST_SHARE: f64 = 0.25;
/// Weight of each band's power where a millisecond of K-weighted power is shared out among its
/// quarters. Ours: about the mean gain of K-weighting (BS.1770-5) in each band, as a power.
pub(crate) const QUARTER_WEIGHT: [f32; 3] = [0.7, 1.3, 2.5];
/// Least length of a frame of the hits' spectrum, s. Ours: 40 ms hold a hit's attack; rounded up to a
/// power of two of frames, 43 ms at 48 kHz, they tell third octaves apart from 160 Hz on.
pub(crate) const BANDS_FRAME_S: f64 = 0.04;
/// Rise of the frame's window, s; it begins so much ahead of the hit. Ours: as much as surroundings leave
/// out ahead of an onset.
pub(crate) const BANDS_RISE_S: f64 = 0.002;
/// Samples that are kept for the hits' spectra, s. Ours: from two frames ahead of a hit to two behind
/// its first 80 ms, and the time that its transforms take.
pub(crate) const BANDS_MEMORY_S: f64 = 0.65;
/// Smallest and largest level of a hit over its surroundings in one band, dB. Ours: beyond them a band
/// is empty before the hit.
pub const BANDS_RANGE_DB: (f64, f64) = (-30.0, 60.0);

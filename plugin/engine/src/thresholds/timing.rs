//! Limits of what is heard of loose timing, each with its unit and its source.

/// Deviation of bass or guitar from a groove of several parts from which listeners hear it, ms, low
/// and high end. "Just Noticeable Difference Thresholds of Asynchrony and Non-isochrony in a
/// Multi-Instrumental Groove-based Context", preprint, doi:10.31234/osf.io/jsg94, version 3; 64
/// listeners. Ours: notes count as heard from the low end on.
pub const AUDIBLE_MS: (f64, f64) = (31.0, 35.0);
/// The same for drums, ms. The same preprint (doi:10.31234/osf.io/jsg94); Ours: as above.
pub const AUDIBLE_DRUMS_MS: (f64, f64) = (19.0, 24.0);
/// Share of a part's shared notes beyond the low end of the audible from which its timing is worth an
/// eye whatever it costs. Ours: one note in ten, as many as a spread of 20 ms has there.
pub const AUDIBLE_SHARE: f64 = 0.10;

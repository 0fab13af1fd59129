//! Limits of what is heard of loose timing, each with its unit and its source.

/// Deviation of bass or guitar from a groove of several parts from which listeners hear it, ms, low
/// and high end. G. S. Câmara, C. Spiech, S. Solli, B. Bang, O. Rogulina, B. Laeng, A. Danielsen, "Just
/// Noticeable Difference Thresholds of Asynchrony and Non-isochrony in a Multi-Instrumental Groove-based
/// Context", PsyArXiv 2025, doi:10.31234/osf.io/jsg94, abstract of version 3; 64 listeners. Ours: notes
/// count as heard from the low end on.
pub const AUDIBLE_MS: (f64, f64) = (31.0, 35.0);
/// The same for drums (kick, snare, hi-hat), ms. Câmara et al. 2025, as above; Ours: as above.
pub const AUDIBLE_DRUMS_MS: (f64, f64) = (19.0, 24.0);
/// Share of a part's shared notes beyond the low end of the audible from which its timing is worth an
/// eye whatever it costs. Ours: one note in ten, as many as a spread of 20 ms has there.
pub const AUDIBLE_SHARE: f64 = 0.10;

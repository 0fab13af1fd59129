//! Songs of our own with known truth, played on open sound libraries.
//!
//! Drums are single hits from Debian's sound packages; bass, guitars, pads and organ come from an
//! open sound font. Every event's onset is placed on a known sample, so a render carries its own
//! truth. Everything is seeded: the same recipe gives the same samples. Nothing of the sound
//! libraries is committed; a missing package is an error that names it.
//!
//! | what | where |
//! |---|---|
//! | which packages, and where their files lie | [`packages`] |
//! | stereo audio, reading, writing, resampling | [`audio`], [`decode`], [`resample`] |
//! | when a one-shot starts, and how far definitions differ | [`onset`] |
//! | drum kits and pitched instruments | [`drums`], [`kits`], [`synth`], [`notes`], [`amp`] |
//! | patterns, songs, rendering | [`song`], [`songs`], [`player`], [`mix`], [`tone`], [`cache`] |
//! | limiters, clippers, codecs, and what they took | [`process`], [`ceiling`] |
//! | material that no limiter touched | [`unlimited`] |
//! | records of other people | [`records`] |
//! | scoring a detector against the truth | [`score`] |

pub mod amp;
pub mod audio;
pub mod cache;
pub mod ceiling;
pub mod clip;
pub mod decode;
pub mod drums;
pub mod error;
pub mod kits;
pub mod measure;
pub mod mix;
pub mod notes;
pub mod oneshots;
pub mod onset;
pub mod packages;
pub mod patterns;
pub mod player;
pub mod process;
pub mod records;
pub mod resample;
pub mod score;
pub mod shuffle;
pub mod song;
pub mod songs;
pub mod synth;
pub mod tone;
pub mod truth;
pub mod unlimited;

pub use audio::Stereo;
pub use error::CorpusError;
pub use mix::{Mix, render};
pub use song::Song;

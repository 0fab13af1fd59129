//! Audio files: decoded packet by packet, checked, and brought to another sample rate.
//!
//! - [`decode`] reads WAV, AIFF, FLAC, MP3 and Ogg Vorbis; memory does not grow with the length.
//! - [`ahead`] does so on a thread of its own, while what was read before is worked on.
//! - [`whole`] reads a file, or a passage of it, into memory.
//! - [`write`] writes a file whole or not at all.
//! - [`resample`] brings a whole file to another rate.
//! - Bad input ends in one [`Error`](error::Error) that names the file, the value and what was
//!   expected.
//!
//! Nothing here belongs on an audio thread: all of it allocates and reads from disks.
#![forbid(unsafe_code)]

pub mod ahead;
pub mod decode;
pub mod error;
pub mod resample;
pub mod whole;
pub mod write;

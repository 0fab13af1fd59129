//! Punch measured on audio files, with the plug-in's engine and thus its numbers.
//!
//! - [`decode`] reads WAV, AIFF, FLAC, MP3 and Ogg Vorbis packet by packet: memory does not grow
//!   with the length of the audio, only with the number of its hits.
//! - [`analyse`] runs the engine over a file, or a passage of it, and gives a
//!   [`Report`](brunt_report::report::Report).
//! - [`history`] measures revisions of one mix over the passage that they share.
//! - [`parts`] measures the parts of a mix side by side.
//! - [`takes`] compares takes of one guitar riff.
//! - [`listen`] writes versions of a passage at one loudness, with a page to compare them on.
//! - [`terminal`] puts a report on 80 columns; [`output`] writes its JSON, whole or not at all.
//! - [`cli`] is the program `brunt`.
//!
//! Bad input ends in one [`Error`](error::Error) that names the file, the value and what was
//! expected; nothing is written then.
#![forbid(unsafe_code)]

pub mod analyse;
pub mod beside;
pub mod cli;
pub mod error;
pub mod history;
mod kept;
pub mod listen;
pub mod output;
pub mod parts;
pub mod takes;
pub mod terminal;

pub use brunt_files::decode;

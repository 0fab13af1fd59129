//! What can be wrong with a file: facts, and one line of text for each.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use brunt_engine::thresholds::compare::COMPARE_RATE_HZ;
use brunt_engine::{MAX_CHANNELS, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ};

/// Formats that can be read, as named in messages.
pub const FORMATS: &str = "WAV, AIFF, FLAC, MP3 or Ogg Vorbis";

/// What is wrong with the rate of a file that a mix is compared with, Hz; `None` where it carries all that is
/// compared.
#[must_use]
pub fn low_rate(rate_hz: u32, mix_hz: u32) -> Option<String> {
    let least = f64::from(mix_hz).min(COMPARE_RATE_HZ);
    (f64::from(rate_hz) < least).then(|| {
        format!(
            "sample rate {rate_hz} Hz, too low to compare with a mix at {mix_hz} Hz; expected {least} Hz or more"
        )
    })
}

/// A fault of one file. Its text is one line: file, value, and what was expected where that helps.
#[derive(Debug)]
pub struct Error {
    /// The file at fault.
    pub file: PathBuf,
    /// What is wrong with it.
    pub fault: Fault,
}

/// What is wrong with a file.
#[derive(Debug)]
pub enum Fault {
    /// There is no such file.
    Missing,
    /// The path is a directory.
    Directory,
    /// The file cannot be read.
    Unreadable(io::Error),
    /// The file has no bytes.
    Empty,
    /// No format was recognised, or the format holds something else than audio.
    NotAudio(String),
    /// A form of WAV for more than 4 GiB, by its name.
    LargeForm(&'static str),
    /// The channel count is neither 1 nor 2.
    Channels(usize),
    /// The sample rate, Hz, is outside the engine's range.
    SampleRate(u32),
    /// The header promises more than the file holds.
    CutShort {
        /// Frames promised by the header.
        promised: u64,
        /// Frames in the file.
        held: u64,
        /// Sample rate, Hz; 0 where the header names none.
        rate: u32,
    },
    /// A stream that ends without its end mark.
    NoEndMark {
        /// Seconds read.
        held_s: f64,
    },
    /// A packet that cannot be decoded.
    Damaged {
        /// Where, seconds from the start.
        at_s: f64,
        /// The decoder's reason.
        reason: String,
    },
    /// The decoded audio differs from the checksum in the file.
    Checksum,
}

impl Fault {
    /// The fault of `file`.
    #[must_use]
    pub fn of(self, file: &Path) -> Error {
        Error { file: file.to_owned(), fault: self }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", one_line(&self.file.to_string_lossy()), self.fault)
    }
}

impl std::error::Error for Error {}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing => f.write_str("no such file"),
            Self::Directory => write!(f, "a folder; expected a {FORMATS} file"),
            Self::Unreadable(e) => {
                write!(f, "cannot be read ({})", io_reason(e))
            }
            Self::Empty => f.write_str("empty file, 0 bytes"),
            Self::NotAudio(reason) => {
                write!(f, "no audio found ({}); expected {FORMATS}", one_line(reason))
            }
            Self::LargeForm(form) => write!(
                f,
                "{form} cannot be read; export it as FLAC, or as plain WAV or AIFF of less than 4 GB"
            ),
            Self::Channels(got) => {
                let s = if *got == 1 { "" } else { "s" };
                write!(f, "{got} channel{s}; expected 1 to {MAX_CHANNELS}")
            }
            Self::SampleRate(got) => write!(
                f,
                "sample rate {got} Hz; expected {MIN_SAMPLE_RATE_HZ} to {MAX_SAMPLE_RATE_HZ} Hz"
            ),
            Self::CutShort { promised, held, rate } => write!(
                f,
                "cut short: holds {} of the {} in its header",
                length(*held, *rate),
                length(*promised, *rate)
            ),
            Self::NoEndMark { held_s } => {
                write!(f, "cut short: the stream stops at {held_s:.3} s without its end mark")
            }
            Self::Damaged { at_s, reason } => {
                write!(f, "damaged at {at_s:.3} s ({})", one_line(reason))
            }
            Self::Checksum => f.write_str("damaged: its audio does not match its checksum"),
        }
    }
}

/// Frames as seconds and frames; frames alone where the rate is not known.
fn length(frames: u64, rate: u32) -> String {
    if rate == 0 {
        format!("{frames} frames")
    } else {
        format!("{:.3} s ({frames} frames)", frames as f64 / f64::from(rate))
    }
}

/// The system's reason in lower case, without its number.
#[must_use]
pub fn io_reason(e: &io::Error) -> String {
    let text = e.to_string();
    let text = text.split(" (os error").next().unwrap_or_default();
    one_line(text).to_lowercase()
}

/// Text whose control characters cannot break the line.
#[must_use]
pub fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

//! What can be wrong with a file or an option: facts, and one line of text for each.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use brunt_engine::thresholds::ABSOLUTE_GATE_LUFS as GATE_LUFS;
use brunt_engine::{MAX_CHANNELS, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ};

/// Formats that can be read, as named in messages.
pub const FORMATS: &str = "WAV, AIFF, FLAC, MP3 or Ogg Vorbis";
/// Shortest passage that can be measured, s: one momentary window (ITU-R BS.1770-5, Annex 1).
pub const SHORTEST_S: f64 = 0.4;

/// Largest difference in length between a part and the mix, s. Ours: a reverb's tail may be cut,
/// another song may not pass.
pub const LENGTH_DIFFERS_S: f64 = 5.0;

/// A fault of one file. Its text is one line: file, value, and what was expected where that helps.
#[derive(Debug)]
pub struct Error {
    /// The file at fault.
    pub file: PathBuf,
    /// What is wrong with it.
    pub fault: Fault,
}

/// What is wrong with a file, or with an option that concerns it.
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
    /// The passage is shorter than [`SHORTEST_S`].
    Short {
        /// Its length, s.
        duration_s: f64,
    },
    /// Nothing lies above [`GATE_LUFS`].
    Silent {
        /// The largest sample, dBFS; `None` for digital silence.
        peak_dbfs: Option<f64>,
    },
    /// A take plays for less than 2 s.
    TooLittle,
    /// `--from` or `--to` is negative or no number.
    Time {
        /// `--from` or `--to`.
        option: &'static str,
        /// Its value, s.
        value_s: f64,
    },
    /// `--from` does not lie before `--to`.
    Order {
        /// Start, s.
        from_s: f64,
        /// End, s.
        to_s: f64,
    },
    /// `--from` or `--to` lies beyond the end.
    Beyond {
        /// `--from` or `--to`.
        option: &'static str,
        /// Its value, s.
        value_s: f64,
        /// Length of the file, s.
        duration_s: f64,
    },
    /// A part's sample rate, Hz, is not that of the mix, or of the first part.
    PartRate {
        /// Of the part.
        rate_hz: f64,
        /// Of the mix.
        mix_hz: f64,
    },
    /// A part's length, s, is far from that of the mix.
    PartLength {
        /// Of the part.
        duration_s: f64,
        /// Of the mix.
        mix_s: f64,
    },
    /// The output would overwrite the input.
    Overwrites,
    /// Two outputs would go to one file.
    Twice,
    /// A file is there already, and nobody has allowed to replace it.
    Exists,
    /// The output cannot be written.
    Unwritable(io::Error),
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
            Self::Short { duration_s } => {
                write!(f, "{duration_s:.3} s of audio; expected {SHORTEST_S:.3} s or more")
            }
            Self::Silent { peak_dbfs: Some(peak) } => write!(
                f,
                "silent: nothing above {GATE_LUFS:.0} LUFS, largest sample {peak:.1} dBFS"
            ),
            Self::Silent { peak_dbfs: None } => {
                write!(f, "silent: every sample is 0, nothing above {GATE_LUFS:.0} LUFS")
            }
            Self::TooLittle => {
                write!(f, "plays for less than 2 s; a riff of 2 s or more is needed")
            }
            Self::Time { option, value_s } => {
                write!(f, "{option} {value_s} s; expected 0 s or more")
            }
            Self::Order { from_s, to_s } => {
                write!(f, "--from {from_s} s is not before --to {to_s} s")
            }
            Self::Beyond { option, value_s, duration_s } => {
                write!(f, "{option} {value_s} s is beyond its end at {duration_s:.3} s")
            }
            Self::PartRate { rate_hz, mix_hz } => {
                write!(f, "sample rate {rate_hz} Hz; the other files have {mix_hz} Hz")
            }
            Self::PartLength { duration_s, mix_s } => write!(
                f,
                "{duration_s:.3} s of audio; the mix has {mix_s:.3} s, and they may differ by \
                 {LENGTH_DIFFERS_S:.0} s"
            ),
            Self::Overwrites => {
                write!(f, "would overwrite the input; choose another file")
            }
            Self::Twice => write!(f, "named for two outputs; choose a file for each"),
            Self::Exists => {
                write!(f, "already exists; choose another name, or --force to replace it")
            }
            Self::Unwritable(e) => {
                write!(f, "cannot be written ({})", io_reason(e))
            }
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
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

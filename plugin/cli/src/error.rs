//! What can be wrong with a file, an option or a place to write to: facts, and one line of text for
//! each.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use brunt_engine::InputHealth;
use brunt_engine::thresholds::ABSOLUTE_GATE_LUFS as GATE_LUFS;
use brunt_files::error::{self as files, io_reason, low_rate, one_line};

pub use brunt_files::error::{FORMATS, Fault as FileFault};

/// Shortest passage that can be measured, s: one momentary window (ITU-R BS.1770-5, Annex 1).
pub const SHORTEST_S: f64 = 0.4;

/// Largest difference in length between a part and the mix, s. Ours: a reverb's tail may be cut,
/// another song may not pass.
pub const LENGTH_DIFFERS_S: f64 = 5.0;

/// A fault of one file. Its text is one line: file, value, what was expected.
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
    /// It cannot be read as audio.
    File(FileFault),
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
    /// Nothing but samples that are no audio, and zeros.
    NoNumbers {
        /// Samples that are not a number or over +60 dBFS, all channels.
        samples: u64,
    },
    /// A take plays for less than 2 s.
    TooLittle,
    /// A take without a guitar part whose place it could take.
    NoGuitar {
        /// Guitar parts that there are.
        guitars: usize,
    },
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
    /// A passage to listen to that is too short or too long.
    Passage {
        /// Its length, s.
        length_s: f64,
        /// Shortest and longest, s.
        allowed_s: (f64, f64),
    },
    /// Audio that a file format cannot hold: the encoder's own words.
    Encode(String),
    /// A part's sample rate, Hz, is not that of the mix, or of the first part.
    PartRate {
        /// Of the part.
        rate_hz: f64,
        /// Of the mix.
        mix_hz: f64,
    },
    /// The sample rate of a file that the mix is compared with is too low for that.
    CompareRate(String),
    /// A part's length, s, is far from that of the mix.
    PartLength {
        /// Of the part.
        duration_s: f64,
        /// Of the mix.
        mix_s: f64,
    },
    /// One file is given for two things.
    TwoRoles {
        /// The first of them: `the mix`, or an option.
        first: String,
        /// The second.
        second: String,
    },
    /// The output would overwrite the input.
    Overwrites,
    /// Two outputs would go to one file.
    Twice,
    /// A file of edits of another form than CSV or MIDI.
    EditsForm,
    /// A file is there already, and nobody has allowed to replace it.
    Exists,
    /// The output cannot be written.
    Unwritable(io::Error),
}

impl Fault {
    /// Why nothing can be measured of a file without loudness, by its largest sample, dBFS, and its input.
    pub(crate) fn silent(peak_dbfs: Option<f64>, input: InputHealth) -> Self {
        let peak_dbfs = peak_dbfs.filter(|peak| peak.is_finite());
        match input.nan_samples + input.inf_samples {
            samples if samples > 0 && peak_dbfs.is_none() => Self::NoNumbers { samples },
            _ => Self::Silent { peak_dbfs },
        }
    }

    /// Checks the sample rate of a file that the mix is compared with, Hz.
    ///
    /// # Errors
    /// [`Fault::CompareRate`].
    pub(crate) fn check_compare_rate(rate_hz: u32, mix_hz: u32) -> Result<(), Self> {
        low_rate(rate_hz, mix_hz).map_or(Ok(()), |reason| Err(Self::CompareRate(reason)))
    }

    /// The fault of `file`.
    #[must_use]
    pub fn of(self, file: &Path) -> Error {
        Error { file: file.to_owned(), fault: self }
    }
}

impl From<FileFault> for Fault {
    fn from(fault: FileFault) -> Self {
        Self::File(fault)
    }
}

impl From<files::Error> for Error {
    fn from(error: files::Error) -> Self {
        Self { file: error.file, fault: Fault::File(error.fault) }
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
            Self::File(fault) => fault.fmt(f),
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
            Self::NoNumbers { samples } => write!(
                f,
                "silent: {samples} samples are not a number or over +60 dBFS, and every other is 0"
            ),
            Self::TooLittle => {
                write!(f, "plays for less than 2 s; a riff of 2 s or more is needed")
            }
            Self::NoGuitar { guitars } => write!(
                f,
                "no guitar part is left for this take ({guitars} given); add --part guitars=FILE"
            ),
            Self::Time { option, value_s } => {
                write!(f, "{option} {value_s} s; expected 0 s or more")
            }
            Self::Order { from_s, to_s } => {
                write!(f, "--from {from_s} s is not before --to {to_s} s")
            }
            Self::Beyond { option, value_s, duration_s } => {
                write!(f, "{option} {value_s} s is beyond its end at {duration_s:.3} s")
            }
            Self::Passage { length_s, allowed_s: (least, most) } => write!(
                f,
                "a passage of {length_s:.3} s to listen to; expected {least:.0} to {most:.0} s"
            ),
            Self::Encode(reason) => write!(f, "cannot be encoded ({})", one_line(reason)),
            Self::PartRate { rate_hz, mix_hz } => {
                write!(f, "sample rate {rate_hz} Hz; the other files have {mix_hz} Hz")
            }
            Self::CompareRate(reason) => f.write_str(reason),
            Self::PartLength { duration_s, mix_s } => write!(
                f,
                "{duration_s:.3} s of audio; the mix has {mix_s:.3} s, and they may differ by \
                 {LENGTH_DIFFERS_S:.0} s"
            ),
            Self::TwoRoles { first, second } if first == second => {
                write!(f, "{second} is given this file twice; give each file once")
            }
            Self::TwoRoles { first, second } => {
                write!(f, "{second} is the same file as {first}; give each a file of its own")
            }
            Self::Overwrites => {
                write!(f, "would overwrite the input; choose another file")
            }
            Self::Twice => write!(f, "named for two outputs; choose a file for each"),
            Self::EditsForm => write!(f, "no form of edits; name it FILE.csv or FILE.mid"),
            Self::Exists => {
                write!(f, "already exists; choose another name, or --force to replace it")
            }
            Self::Unwritable(e) => {
                write!(f, "cannot be written ({})", io_reason(e))
            }
        }
    }
}

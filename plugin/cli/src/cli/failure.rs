//! What goes to standard output, and why nothing could be reported.

use std::io::{self, Write};
use std::path::PathBuf;

use crate::error::Error;

/// Exit status of bad input. The option parser uses the same for bad options.
pub(super) const EXIT_INPUT: u8 = 2;

/// Prints, and takes a reader that went away (`brunt ... | head`) for one that has read enough.
pub(super) fn print(text: &str, out: &mut dyn Write) -> Result<(), Failure> {
    print_bytes(text.as_bytes(), out)
}

pub(super) fn print_bytes(bytes: &[u8], out: &mut dyn Write) -> Result<(), Failure> {
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(Failure::Print(e)),
        _ => Ok(()),
    }
}

/// Why nothing could be reported.
#[derive(Debug)]
pub(super) enum Failure {
    File(Error),
    Json(serde_json::Error),
    Csv(csv::Error),
    Print(io::Error),
    Pages(PathBuf, io::Error),
}

impl From<Error> for Failure {
    fn from(e: Error) -> Self {
        Self::File(e)
    }
}

impl From<serde_json::Error> for Failure {
    fn from(e: serde_json::Error) -> Self {
        Self::Json(e)
    }
}

impl From<csv::Error> for Failure {
    fn from(e: csv::Error) -> Self {
        Self::Csv(e)
    }
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::File(e) => e.fmt(f),
            Self::Json(e) => write!(f, "the report cannot be put into JSON: {e}"),
            Self::Csv(e) => write!(f, "the hits cannot be put into CSV: {e}"),
            Self::Print(e) => write!(f, "standard output cannot be written: {e}"),
            Self::Pages(folder, e) => {
                write!(f, "{}: the manual pages cannot be written: {e}", folder.display())
            }
        }
    }
}

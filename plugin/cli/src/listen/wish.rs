//! What is asked for, and how far it has come.

use std::path::PathBuf;

use brunt_report::report::Tempo;

use super::encode::Format;
use crate::analyse::Progress;
use crate::parts::PartFile;

/// What to write of which files.
#[derive(Clone, Debug, Default)]
pub struct Wish {
    /// The mix.
    pub mix: PathBuf,
    /// The mix before the limiter.
    pub before: Option<PathBuf>,
    /// A reference.
    pub reference: Option<PathBuf>,
    /// The parts.
    pub parts: Vec<PartFile>,
    /// Takes to hear in the guitars' places, in the order of the guitar parts.
    pub takes: Vec<PathBuf>,
    /// Start of the passage, s; chosen where neither end is given.
    pub from_s: Option<f64>,
    /// Its end, s.
    pub to_s: Option<f64>,
    /// Form of the files.
    pub format: Format,
    /// The song's tempo, for the bars of the notes to move.
    pub tempo: Option<Tempo>,
}

/// How far the work has come.
#[derive(Clone, Copy, Debug)]
pub enum Step {
    /// The mix is being measured.
    Measuring(Progress),
    /// The parts are being measured.
    Parts,
    /// The versions are being made.
    Versions,
    /// So many of so many files are written.
    Writing(usize, usize),
}

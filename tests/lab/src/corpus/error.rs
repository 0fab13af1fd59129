//! Why a corpus could not be built.

use std::path::PathBuf;

/// One error, one line: what was wanted, what was found, what to do.
#[derive(Debug)]
pub enum CorpusError {
    /// A file of a Debian package is not there.
    Missing {
        /// The package that holds the file.
        package: &'static str,
        /// The file.
        path: PathBuf,
    },
    /// A file was found and could not be decoded, read or written.
    File {
        /// The file.
        path: PathBuf,
        /// What the reader or the system said.
        why: String,
    },
    /// A separate program failed.
    Program {
        /// Name of the program.
        program: &'static str,
        /// What it said.
        why: String,
    },
    /// A recipe asks for something that its kit or font does not have.
    Recipe(String),
}

impl CorpusError {
    /// Builds [`CorpusError::File`] from any displayable cause.
    pub fn file(path: impl Into<PathBuf>, why: impl std::fmt::Display) -> Self {
        Self::File { path: path.into(), why: why.to_string() }
    }
}

impl std::fmt::Display for CorpusError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Missing { package, path } => write!(
                f,
                "{}: not found; it comes with the Debian package {package}: run `cargo xtask setup`",
                path.display()
            ),
            Self::File { path, why } => write!(f, "{}: {why}", path.display()),
            Self::Program { program, why } => {
                write!(f, "{program}: {why} (if it is not installed, run `cargo xtask setup`)")
            }
            Self::Recipe(why) => write!(f, "corpus recipe: {why}"),
        }
    }
}

impl std::error::Error for CorpusError {}

//! The files that a command reads, each with what the command line gives it as.

use std::path::{Path, PathBuf};

use crate::error::{Error, Fault};
use crate::output::same_file;
use crate::parts::PartFile;

/// What the first file of `check` and `listen` is given as.
const MIX: &str = "the mix";

/// The files that a command reads.
#[derive(Debug, Default)]
pub(super) struct Inputs<'a>(Vec<(String, &'a Path)>);

impl<'a> Inputs<'a> {
    /// The mix, where there is one.
    pub(super) fn mix(mix: impl IntoIterator<Item = &'a PathBuf>) -> Self {
        Self::default().with(MIX, mix)
    }

    /// The same with the files of one option.
    pub(super) fn with(
        mut self,
        option: &str,
        files: impl IntoIterator<Item = &'a PathBuf>,
    ) -> Self {
        self.0.extend(files.into_iter().map(|file| (option.to_owned(), file.as_path())));
        self
    }

    /// The same with the parts.
    pub(super) fn with_parts(mut self, parts: &'a [PartFile]) -> Self {
        let given_as = |part: &PartFile| format!("--part {}", part.role.code());
        self.0.extend(parts.iter().map(|part| (given_as(part), part.path.as_path())));
        self
    }

    /// Where they are: nothing may be written over one of them.
    pub(super) fn paths(&self) -> Vec<&'a Path> {
        self.0.iter().map(|(_, path)| *path).collect()
    }

    /// Checks that no file is given twice: against itself it would read as clear.
    ///
    /// # Errors
    /// [`Fault::TwoRoles`] of the second of two.
    pub(super) fn check_distinct(&self) -> Result<(), Error> {
        for (n, (second, path)) in self.0.iter().enumerate() {
            if let Some((first, _)) = self.0[..n].iter().find(|(_, other)| same_file(other, path)) {
                let (first, second) = (first.clone(), second.clone());
                return Err(Fault::TwoRoles { first, second }.of(path));
            }
        }
        Ok(())
    }
}

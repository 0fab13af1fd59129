//! Writes a file whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use brunt_files::write::Unnamed;

use crate::error::{Error, Fault, FileFault};

/// A place that was found fit to write to.
#[derive(Debug)]
pub struct Target {
    named: PathBuf,
    place: Place,
}

#[derive(Debug)]
enum Place {
    /// No file is there: made in one step, unless one has come meanwhile.
    New(PathBuf),
    /// A regular file: replaced in one step.
    Old(PathBuf),
    /// A device or a pipe: written to as it is, since replacing it would remove it.
    Device,
}

impl Target {
    /// Checks, before any work is done, that `path` can be written, is not `input`, and is no
    /// file that would have to be replaced without `replace`.
    ///
    /// # Errors
    /// [`Fault::Overwrites`], [`Fault::Exists`] or [`Fault::Unwritable`], naming `path`.
    pub fn check(path: &Path, input: &Path, replace: bool) -> Result<Self, Error> {
        let fault = |fault: Fault| fault.of(path);
        let unwritable = |e: io::Error| Fault::Unwritable(e).of(path);
        let place = match fs::metadata(path) {
            Ok(meta) if meta.is_dir() => {
                return Err(unwritable(io::Error::other("a directory")));
            }
            Ok(meta) if meta.is_file() => {
                if same_file(path, input) {
                    return Err(fault(Fault::Overwrites));
                }
                if !replace {
                    return Err(fault(Fault::Exists));
                }
                // Asks the system whether this file may be changed; the directory alone would
                // let a read-only file be replaced.
                OpenOptions::new().append(true).open(path).map_err(unwritable)?;
                // A link stays a link: what it points to is replaced.
                Place::Old(fs::canonicalize(path).map_err(unwritable)?)
            }
            Ok(_) => Place::Device,
            Err(e) if e.kind() == io::ErrorKind::NotFound => Place::New(path.to_owned()),
            Err(e) => return Err(unwritable(e)),
        };
        if let Place::New(file) | Place::Old(file) = &place {
            Unnamed::beside(file).map_err(unwritable)?;
        }
        Ok(Self { named: path.to_owned(), place })
    }

    /// The same where none of several inputs may be written over; there is one at least.
    ///
    /// # Errors
    /// As [`Self::check`]; [`Fault::Overwrites`] of any of the inputs before all others.
    pub fn check_all<'a>(
        path: &Path,
        inputs: impl IntoIterator<Item = &'a Path>,
        replace: bool,
    ) -> Result<Self, Error> {
        let inputs: Vec<&Path> = inputs.into_iter().collect();
        let none = || Fault::from(FileFault::Missing).of(path);
        // A file that is read is refused by name, whatever else is in the way.
        let read = inputs.iter().find(|input| same_file(path, input));
        Self::check(path, read.or(inputs.first()).ok_or_else(none)?, replace)
    }

    /// Writes `text`, or any bytes: into a temporary file beside the target, which then takes its place.
    ///
    /// # Errors
    /// [`Fault::Unwritable`], or [`Fault::Exists`] where a file has come since the check, naming
    /// the path; the target is then as it was before.
    pub fn write(&self, text: impl AsRef<[u8]>) -> Result<(), Error> {
        let bytes = text.as_ref();
        let written = match &self.place {
            Place::New(file) => Unnamed::filled(file, bytes)
                .and_then(|unnamed| unnamed.name(file).map_err(|(error, _)| error)),
            Place::Old(file) => {
                Unnamed::filled(file, bytes).and_then(|unnamed| unnamed.replace(file))
            }
            Place::Device => OpenOptions::new()
                .write(true)
                .open(&self.named)
                .and_then(|mut device| device.write_all(bytes)),
        };
        written.map_err(|e| {
            let exists = e.kind() == io::ErrorKind::AlreadyExists;
            if exists { Fault::Exists } else { Fault::Unwritable(e) }.of(&self.named)
        })
    }

    /// Writes `bytes` into a temporary file next to the target, which [`Filled::name`] puts in its
    /// place. Several files can thus be whole on the disk before the first of them has its name.
    ///
    /// # Errors
    /// [`Fault::Unwritable`], naming the path.
    pub fn fill(&self, bytes: &[u8]) -> Result<Filled<'_>, Error> {
        let unwritable = |e: io::Error| Fault::Unwritable(e).of(&self.named);
        match &self.place {
            Place::New(file) | Place::Old(file) => {
                let unnamed = Unnamed::filled(file, bytes).map_err(unwritable)?;
                Ok(Filled { unnamed, target: self })
            }
            Place::Device => Err(unwritable(io::Error::other("a device"))),
        }
    }

    /// The place as the user named it.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.named
    }

    /// Whether no file is there yet.
    #[must_use]
    pub fn is_new(&self) -> bool {
        matches!(self.place, Place::New(_))
    }

    /// Whether two targets are one file.
    #[must_use]
    pub fn same_as(&self, other: &Self) -> bool {
        match (&self.place, &other.place) {
            (Place::Device, Place::Device) => false,
            _ => self.named == other.named || same_file(&self.named, &other.named),
        }
    }
}

/// A file that is written and has no name yet. Dropped without one it is gone.
#[derive(Debug)]
pub struct Filled<'a> {
    unnamed: Unnamed,
    target: &'a Target,
}

impl Filled<'_> {
    /// Where it is meanwhile.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.unnamed.path()
    }

    /// Gives it its name.
    ///
    /// # Errors
    /// [`Fault::Unwritable`], or [`Fault::Exists`] where a file has come since the check; what was there
    /// is then still there.
    pub fn name(self) -> Result<(), Error> {
        let named = match &self.target.place {
            Place::New(file) => self.unnamed.name(file).map_err(|(error, _)| error),
            Place::Old(file) => self.unnamed.replace(file),
            Place::Device => Ok(()),
        };
        named.map_err(|e| {
            let exists = e.kind() == io::ErrorKind::AlreadyExists;
            if exists { Fault::Exists } else { Fault::Unwritable(e) }.of(&self.target.named)
        })
    }
}

/// Whether two paths lead to one file: through links of either kind.
pub(crate) fn same_file(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        if let (Ok(a), Ok(b)) = (fs::metadata(a), fs::metadata(b)) {
            return (a.dev(), a.ino()) == (b.dev(), b.ino());
        }
    }
    matches!((fs::canonicalize(a), fs::canonicalize(b)), (Ok(a), Ok(b)) if a == b)
}

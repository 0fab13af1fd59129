//! Writes a file whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use crate::error::{Error, Fault};

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
            temporary(file).map_err(unwritable)?;
        }
        Ok(Self { named: path.to_owned(), place })
    }

    /// Writes `text`: into a temporary file beside the target, which then takes its place.
    ///
    /// # Errors
    /// [`Fault::Unwritable`], or [`Fault::Exists`] where a file has come since the check, naming
    /// the path; the target is then as it was before.
    pub fn write(&self, text: &str) -> Result<(), Error> {
        let filled = |file: &Path| {
            let mut temporary = temporary(file)?;
            temporary.write_all(text.as_bytes())?;
            temporary.as_file().sync_all()?;
            Ok(temporary)
        };
        let written = match &self.place {
            Place::New(file) => filled(file)
                .and_then(|temporary| temporary.persist_noclobber(file).map_err(|e| e.error)),
            Place::Old(file) => {
                filled(file).and_then(|temporary| temporary.persist(file).map_err(|e| e.error))
            }
            Place::Device => OpenOptions::new()
                .write(true)
                .open(&self.named)
                .and_then(|mut device| device.write_all(text.as_bytes()).map(|()| device)),
        };
        if let Place::New(file) | Place::Old(file) = &self.place
            && written.is_ok()
        {
            keep_name(file);
        }
        written.map(drop).map_err(|e| {
            let exists = e.kind() == io::ErrorKind::AlreadyExists;
            if exists { Fault::Exists } else { Fault::Unwritable(e) }.of(&self.named)
        })
    }

    /// The place as the user named it.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.named
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

/// Asks the system to keep the file's new name through a power cut: its content is on the disk by
/// then, its name may not be. Whether that worked is no matter for the user: the old file or the
/// new one is there, whole, either way.
fn keep_name(file: &Path) {
    #[cfg(unix)]
    if let Ok(directory) = fs::File::open(directory_of(file)) {
        let _ = directory.sync_all();
    }
    #[cfg(not(unix))]
    let _ = file;
}

fn directory_of(file: &Path) -> &Path {
    match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// A temporary file beside `file`, with the rights that a new file would have. It removes itself
/// unless it is persisted.
fn temporary(file: &Path) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(".brunt-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The user's mask still applies.
        let mode = fs::metadata(file).map_or(0o666, |meta| meta.permissions().mode() & 0o777);
        builder.permissions(fs::Permissions::from_mode(mode));
    }
    builder.tempfile_in(directory_of(file)).map_err(|e| match e.kind() {
        // The library adds the temporary file's own path; the user named another.
        io::ErrorKind::NotFound => io::Error::other("no such directory"),
        kind => io::Error::from(kind),
    })
}

/// Whether two paths lead to one file: through links of either kind.
fn same_file(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        if let (Ok(a), Ok(b)) = (fs::metadata(a), fs::metadata(b)) {
            return (a.dev(), a.ino()) == (b.dev(), b.ino());
        }
    }
    matches!((fs::canonicalize(a), fs::canonicalize(b)), (Ok(a), Ok(b)) if a == b)
}

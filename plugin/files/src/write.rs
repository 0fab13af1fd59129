//! Writes a file whole or not at all: into a temporary file beside it, which then takes its name.

#[cfg(unix)]
use std::fs;
use std::io::{self, Write};
use std::path::Path;

use tempfile::{Builder, NamedTempFile};

/// A file that is written and has no name yet. Dropped without one it is gone.
#[derive(Debug)]
pub struct Unnamed(NamedTempFile);

impl Unnamed {
    /// An empty one in the folder of `file`, with the rights that `file` has, or a new file would have.
    ///
    /// # Errors
    /// What the system says where nothing can be written there.
    pub fn beside(file: &Path) -> io::Result<Self> {
        let mut builder = Builder::new();
        builder.prefix(".brunt-");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The user's mask still applies.
            let mode = fs::metadata(file).map_or(0o666, |meta| meta.permissions().mode() & 0o777);
            builder.permissions(fs::Permissions::from_mode(mode));
        }
        let made = builder.tempfile_in(directory_of(file)).map_err(|e| match e.kind() {
            // The library adds the temporary file's own path; the user named another.
            io::ErrorKind::NotFound => io::Error::other("no such directory"),
            kind => io::Error::from(kind),
        });
        made.map(Self)
    }

    /// The same with `content` in it, on the disk.
    ///
    /// # Errors
    /// What the system says.
    pub fn filled(file: &Path, content: impl AsRef<[u8]>) -> io::Result<Self> {
        let mut unnamed = Self::beside(file)?;
        unnamed.0.write_all(content.as_ref())?;
        unnamed.0.as_file().sync_all()?;
        Ok(unnamed)
    }

    /// Where it is meanwhile.
    #[must_use]
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// Gives it the name `file`, in place of a file that has it.
    ///
    /// # Errors
    /// What the system says; what was there is then still there.
    pub fn replace(self, file: &Path) -> io::Result<()> {
        self.0.persist(file).map_err(|e| e.error)?;
        keep_name(file);
        Ok(())
    }

    /// Gives it the name `file` unless a file has it: then the error holds this one, for another
    /// name.
    ///
    /// # Errors
    /// What the system says, [`io::ErrorKind::AlreadyExists`] where a file is there.
    pub fn name(self, file: &Path) -> Result<(), (io::Error, Self)> {
        self.0.persist_noclobber(file).map_err(|e| (e.error, Self(e.file)))?;
        keep_name(file);
        Ok(())
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

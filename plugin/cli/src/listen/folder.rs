//! The folder that a session goes into: whole files, or none.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use brunt_report::listen::ListenReport;

use crate::error::{Error, Fault};
use crate::output::{Target, same_file};

/// Name of the session's JSON.
pub(super) const JSON: &str = "listen.json";
/// Name of the page.
pub(super) const PAGE: &str = "index.html";

/// The folder.
pub struct Folder {
    path: PathBuf,
    inputs: Vec<PathBuf>,
    replace: bool,
    /// Whether it was made here, and holds nothing yet.
    fresh: bool,
}

impl Folder {
    /// Takes `path`, or makes it, before any work is done. Nothing that is there is replaced without
    /// `replace`, and none of the `inputs` ever.
    ///
    /// # Errors
    /// [`Fault::Unwritable`] or [`Fault::Exists`], naming the folder or the file in it.
    pub fn open(path: &Path, inputs: &[&Path], replace: bool) -> Result<Self, Error> {
        let unwritable = |e: io::Error| Fault::Unwritable(e).of(path);
        let fresh = match fs::metadata(path) {
            Ok(meta) if !meta.is_dir() => return Err(unwritable(io::Error::other("not a folder"))),
            Ok(_) => false,
            Err(e) if e.kind() == io::ErrorKind::NotFound => {
                fs::create_dir(path).map_err(|e| match e.kind() {
                    io::ErrorKind::NotFound => unwritable(io::Error::other("no such directory")),
                    _ => unwritable(e),
                })?;
                true
            }
            Err(e) => return Err(unwritable(e)),
        };
        let folder = Self {
            path: path.to_owned(),
            inputs: inputs.iter().map(|&input| input.to_owned()).collect(),
            replace,
            fresh,
        };
        for name in [JSON, PAGE] {
            folder.target(name)?;
        }
        Ok(folder)
    }

    /// A file in it that may be written.
    pub(super) fn target(&self, name: &str) -> Result<Target, Error> {
        let inputs = self.inputs.iter().map(PathBuf::as_path);
        Target::check_all(&self.path.join(name), inputs, self.replace)
    }

    /// The files that the session before left here and that are not among `names`.
    pub(super) fn stale(&self, names: &[&str]) -> Vec<PathBuf> {
        let old = fs::read_to_string(self.path.join(JSON)).unwrap_or_default();
        let Ok(old) = serde_json::from_str::<ListenReport>(&old) else { return Vec::new() };
        let plain = |name: &str| Path::new(name).file_name().is_some_and(|last| last == name);
        let stale = old.versions.iter().map(|version| version.file.as_str());
        let stale = stale.filter(|name| plain(name) && !names.contains(name));
        // A file of the user's that has come by the same name in another way is not told from it; one
        // that is read for this session is.
        stale
            .map(|name| self.path.join(name))
            .filter(|path| !self.inputs.iter().any(|input| same_file(input, path)))
            .collect()
    }

    /// It holds what it was made for.
    pub(super) fn done(&mut self) {
        self.fresh = false;
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if self.fresh {
            // Only where it is empty: that it stays otherwise is right.
            let _ = fs::remove_dir(&self.path);
        }
    }
}

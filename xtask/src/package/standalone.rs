//! The stand-alone program, for systems on which it was seen to run: Linux.

use std::path::PathBuf;

use anyhow::Result;

use crate::bundle::Build;
use crate::workspace::{self, cargo};

/// Its name.
pub const NAME: &str = "brunt-standalone";

/// Builds it, after everything else: the library that this leaves in cargo's folder is another one than the
/// plug-in, and what has been bundled stays. `None` where it is not packaged.
pub fn built(build: &Build) -> Result<Option<PathBuf>> {
    if build.system() != "linux" {
        return Ok(None);
    }
    let mut command = cargo(["build"]);
    if build.release {
        command.args(["--package", "brunt", "--features", "standalone"]);
    } else {
        // With a test, as everywhere in the development build, so that the crates below stay as they are.
        command.args(["--workspace", "--test=hosts", "--features", "brunt/standalone"]);
    }
    command.args(["--bin", NAME]).args(build.arguments());
    workspace::run(&mut command, "cargo build of the stand-alone program")?;
    Ok(Some(build.folder()?.join(NAME)))
}

//! Finds the built plug-in.

use std::env;
use std::path::PathBuf;

use super::{Error, Result};

/// Name of the variable that points to another bundle.
pub const VARIABLE: &str = "BRUNT_BUNDLE";

/// Path of the built `Brunt.clap`: the one that `BRUNT_BUNDLE` names, or the one in the `bundled`
/// folder of the target folder that this program was built into.
///
/// # Errors
/// When there is none; the message says how to build it.
pub fn find() -> Result<PathBuf> {
    let missing = |path: &str| {
        Error(format!(
            "no plug-in at {path}: build it with `cargo xtask bundle`, or set {VARIABLE}"
        ))
    };
    if let Some(path) = env::var_os(VARIABLE).map(PathBuf::from) {
        return if path.is_file() { Ok(path) } else { Err(missing(&path.display().to_string())) };
    }
    let program = env::current_exe().map_err(|e| super::because("this program's path", e))?;
    let found = program.ancestors().map(|folder| folder.join("bundled/Brunt.clap"));
    let mut tried = found.clone().skip(2);
    found
        .into_iter()
        .find(|path| path.is_file())
        .ok_or_else(|| missing(&tried.next().map_or_else(String::new, |p| p.display().to_string())))
}

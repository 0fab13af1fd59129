//! Renders kept under the build's target directory, by a hash of their recipe.

use super::{CorpusError, Stereo};
use std::path::PathBuf;

/// Raised whenever the same recipe would give other samples.
const VERSION: u32 = 1;

/// Folder of the kept renders.
#[must_use]
pub fn folder() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../target"), PathBuf::from);
    target.join("corpus")
}

/// The audio of `recipe`: read if it was made before, else made and kept.
///
/// # Errors
/// Whatever `make` fails with, or [`CorpusError::File`] when the folder cannot be written.
pub fn audio(
    recipe: &str,
    make: impl FnOnce() -> Result<Stereo, CorpusError>,
) -> Result<Stereo, CorpusError> {
    let folder = folder();
    let path = folder.join(format!("{:016x}.wav", hash(&format!("{VERSION} {recipe}"))));
    if path.is_file() {
        return Stereo::read(&path);
    }
    let audio = make()?;
    std::fs::create_dir_all(&folder).map_err(|e| CorpusError::file(&folder, e))?;
    // Written beside and renamed: a test that runs at the same time never reads half a file.
    let part = path.with_extension(format!("{}.part", std::process::id()));
    audio.write(&part)?;
    std::fs::rename(&part, &path).map_err(|e| CorpusError::file(&path, e))?;
    Ok(audio)
}

/// FNV-1a, 64 bits: the standard library's hasher promises no fixed values.
fn hash(text: &str) -> u64 {
    text.bytes()
        .fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
}

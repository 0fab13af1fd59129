//! What separate programs made, kept under the build's target directory by a hash of the input's
//! samples and of the recipe, so that a second test run starts none of them again.

use super::{CorpusError, Stereo};
use std::path::PathBuf;

/// Raised whenever the same recipe on the same input would give other samples.
const VERSION: u32 = 1;

/// Folder of the kept renders.
#[must_use]
pub fn folder() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../target"),
        PathBuf::from,
    );
    target.join("corpus")
}

/// What `recipe` makes of `input`: read if it was made before, else made and kept.
///
/// # Errors
/// Whatever `make` fails with, or [`CorpusError::File`] when the folder cannot be written.
pub fn audio(
    input: &Stereo,
    recipe: &str,
    make: impl FnOnce() -> Result<Stereo, CorpusError>,
) -> Result<Stereo, CorpusError> {
    let folder = folder();
    let recipe = format!("{VERSION} {} {recipe}", input.rate);
    let samples = input.left.iter().chain(&input.right).map(|x| u64::from(x.to_bits()));
    let key = hash(samples.chain(recipe.bytes().map(u64::from)));
    let path = folder.join(format!("{key:016x}.wav"));
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

/// FNV-1a, 64 bits, a word at a time: the standard library's hasher promises no fixed values.
fn hash(words: impl Iterator<Item = u64>) -> u64 {
    words.fold(0xcbf2_9ce4_8422_2325, |h, w| {
        let mixed = (h ^ w).wrapping_mul(0x0100_0000_01b3);
        // A word is wider than the byte that FNV takes: fold its upper bits down as well.
        mixed ^ (mixed >> 32)
    })
}

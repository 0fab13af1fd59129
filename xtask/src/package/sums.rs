//! `SHA256SUMS`, in the form that `sha256sum --check` reads.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use sha2::{Digest, Sha256};

/// Writes the sums of these files, which are in `folder`.
pub fn write(folder: &Path, files: &[PathBuf]) -> Result<()> {
    let mut text = String::new();
    for file in files {
        let bytes = fs::read(file).with_context(|| format!("cannot read {}", file.display()))?;
        let name = file.file_name().context("a package has a name")?.to_string_lossy();
        writeln!(text, "{}  {name}", hex(&bytes))?;
    }
    let path = folder.join("SHA256SUMS");
    fs::write(&path, text).with_context(|| format!("cannot write {}", path.display()))
}

/// The sum of these bytes, in hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    let mut text = String::new();
    for byte in Sha256::digest(bytes) {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::hex;

    /// FIPS 180-4's example "abc".
    #[test]
    fn the_sum_is_the_standards() {
        assert_eq!(hex(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}

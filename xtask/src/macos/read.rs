//! What a linked file says of itself.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use goblin::mach::MachO;
use goblin::mach::constants::cputype::{CPU_TYPE_ARM64, CPU_TYPE_X86_64};
use goblin::mach::header::{MH_DYLIB, MH_EXECUTE};
use goblin::mach::load_command::CommandVariant;
use sha2::{Digest, Sha256};

use crate::report::Seen;

/// Functions that hosts look for: of CLAP, and of VST3 on macOS (both formats' headers).
const ENTRIES: [&str; 4] = ["clap_entry", "GetPluginFactory", "bundleEntry", "bundleExit"];

/// Reads a linked library or program and says what is in it.
pub fn seen(path: &Path, target: &str, library: bool) -> Result<Seen> {
    let bytes = fs::read(path).with_context(|| format!("cannot read {}", path.display()))?;
    let in_file = || path.display().to_string();
    let mach = MachO::parse(&bytes, 0).with_context(in_file)?;
    let processor = if target.starts_with("aarch64") { CPU_TYPE_ARM64 } else { CPU_TYPE_X86_64 };
    ensure!(mach.header.cputype() == processor, "{}: another processor's", path.display());
    let kind = if library { MH_DYLIB } else { MH_EXECUTE };
    ensure!(mach.header.filetype == kind, "{}: kind {}", path.display(), mach.header.filetype);
    if library {
        let exports = mach.exports().with_context(in_file)?;
        for entry in ENTRIES {
            let name = format!("_{entry}");
            ensure!(exports.iter().any(|export| export.name == name), "it has no {entry}");
        }
    }
    let libraries: Vec<&str> =
        mach.libs.iter().copied().filter(|name| name.starts_with('/')).collect();
    let expected: Vec<&str> = undefined(&mach)?;
    // What is left to the system is C's and Objective-C's: a function of Rust's would be missing.
    let own = expected.iter().find(|name| name.starts_with("__ZN") || name.starts_with("__R"));
    ensure!(own.is_none(), "{}: {own:?} is not linked", path.display());
    let pages = signed_pages(&bytes, &mach).with_context(in_file)?;
    Ok(Seen::Well(format!(
        "{:.1} MB, {} libraries and {} symbols of the system's, signature of {pages} pages holds",
        bytes.len() as f64 * 1e-6,
        libraries.len(),
        expected.len()
    )))
}

/// The symbols that are looked for when it is loaded.
fn undefined<'a>(mach: &MachO<'a>) -> Result<Vec<&'a str>> {
    let mut names = Vec::new();
    for symbol in mach.symbols() {
        let (name, list) = symbol?;
        if list.is_undefined() {
            names.push(name);
        }
    }
    Ok(names)
}

/// Checks the signature: that each page of the file has the sum that the signature's list has for it. Gives
/// the number of pages. (Apple's `cs_blobs.h`: numbers are big-endian; a list of blobs, of which the code
/// directory has the sums.)
fn signed_pages(bytes: &[u8], mach: &MachO) -> Result<usize> {
    let place = mach.load_commands.iter().find_map(|command| match command.command {
        CommandVariant::CodeSignature(place) => Some(place),
        _ => None,
    });
    let start = place.context("it has no signature")?.dataoff as usize;
    let number = |at: usize| -> Result<usize> {
        let four = bytes.get(at..at + 4).context("the signature has an end too early")?;
        Ok(u32::from_be_bytes(four.try_into()?) as usize)
    };
    ensure!(number(start)? == 0xfade_0cc0, "the signature is no list of blobs");
    let mut directory = None;
    for blob in 0..number(start + 8)? {
        let at = start + number(start + 16 + 8 * blob)?;
        if number(at)? == 0xfade_0c02 {
            directory = Some(at);
        }
    }
    let at = directory.context("the signature has no code directory")?;
    let (sums, count, end) = (at + number(at + 16)?, number(at + 28)?, number(at + 32)?);
    let head = bytes.get(at + 36..at + 40).context("the code directory has an end too early")?;
    let [length, kind, _, page] = head.try_into()?;
    ensure!((length, kind) == (32, 2), "sums of kind {kind}, {length} bytes: expected SHA-256");
    for (n, page) in bytes[..end].chunks(1 << page).enumerate() {
        let sum = bytes.get(sums + 32 * n..sums + 32 * (n + 1));
        ensure!(n < count && sum == Some(&Sha256::digest(page)[..]), "page {n} has another sum");
    }
    Ok(count)
}

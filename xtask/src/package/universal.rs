//! One package for both of macOS's processors: each program and library has the code of both.

use anyhow::{Context, Result, bail, ensure};
use fat_macho::FatWriter;
use goblin::mach::Mach;

use super::contents::Item;

/// Whole pages of the larger kind, which macOS maps (bytes; Apple's `lipo` uses them for `arm64`).
const PAGE: usize = 1 << 14;

/// What both hold, programs and libraries as one file each. All else must be the same in both.
pub fn join(first: Vec<Item>, second: Vec<Item>) -> Result<Vec<Item>> {
    ensure!(first.len() == second.len(), "{} files and {}", first.len(), second.len());
    first.into_iter().zip(second).map(|(a, b)| joined(a, &b)).collect()
}

fn joined(mut a: Item, b: &Item) -> Result<Item> {
    let name = a.path.display().to_string();
    let same = (a.kind, &a.path, a.executable) == (b.kind, &b.path, b.executable);
    ensure!(same, "{name} for one processor, {} for the other", b.path.display());
    if a.executable {
        a.bytes = both(&a.bytes, &b.bytes).with_context(|| name)?;
    } else {
        ensure!(a.bytes == b.bytes, "{name} is another for each processor: expected the same");
    }
    Ok(a)
}

/// A file with the code of two, read again: each lies whole in it, with its own signature.
fn both(a: &[u8], b: &[u8]) -> Result<Vec<u8>> {
    let mut writer = FatWriter::new();
    writer.add(a)?;
    writer.add(b)?;
    let mut bytes = Vec::new();
    writer.write_to(&mut bytes)?;
    let Mach::Fat(list) = Mach::parse(&bytes)? else { bail!("it does not hold several") };
    let pieces = list.arches()?;
    ensure!(pieces.len() == 2, "it holds {} pieces", pieces.len());
    for piece in pieces {
        let start = piece.offset as usize;
        ensure!(start.is_multiple_of(PAGE), "a piece starts at {start}, within a page");
        let found = bytes.get(start..start + piece.size as usize);
        ensure!(found == Some(a) || found == Some(b), "a piece is neither of the two");
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use goblin::mach::cputype::{CPU_TYPE_ARM64, CPU_TYPE_X86_64};
    use goblin::mach::header::{MH_EXECUTE, MH_MAGIC_64};

    use super::super::contents::Kind;
    use super::*;

    /// A program without a command (Apple's `mach-o/loader.h`, `mach_header_64`).
    fn program(processor: u32, last: u8) -> Item {
        let mut bytes: Vec<u8> = [MH_MAGIC_64, processor, 0, MH_EXECUTE, 0, 0, 0, 0]
            .into_iter()
            .flat_map(u32::to_le_bytes)
            .collect();
        bytes.push(last);
        Item { kind: Kind::Program, path: PathBuf::from("brunt"), bytes, executable: true }
    }

    fn document(text: &str) -> Item {
        Item { kind: Kind::Document, path: "README".into(), bytes: text.into(), executable: false }
    }

    #[test]
    fn both_programs_lie_in_one_and_documents_stay() {
        let (arm, intel) = (program(CPU_TYPE_ARM64, 1), program(CPU_TYPE_X86_64, 2));
        let (arm_bytes, intel_bytes) = (arm.bytes.clone(), intel.bytes.clone());
        let found =
            join(vec![arm, document("same")], vec![intel, document("same")]).expect("joins");
        let Ok(Mach::Fat(list)) = Mach::parse(&found[0].bytes) else { panic!("not of several") };
        for (processor, bytes) in [(CPU_TYPE_ARM64, arm_bytes), (CPU_TYPE_X86_64, intel_bytes)] {
            let piece = list.find_cputype(processor).expect("a list").expect("a piece");
            assert_eq!(piece.slice(&found[0].bytes), bytes);
        }
        assert_eq!(found[1].bytes, b"same");
    }

    #[test]
    fn the_same_processor_twice_another_document_and_a_missing_file_are_refused() {
        let arm = || program(CPU_TYPE_ARM64, 1);
        assert!(join(vec![arm()], vec![arm()]).is_err());
        assert!(join(vec![document("one")], vec![document("another")]).is_err());
        assert!(join(vec![arm()], vec![document("one")]).is_err());
        assert!(join(vec![arm(), document("one")], vec![arm()]).is_err());
    }
}

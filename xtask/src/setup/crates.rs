//! Programs from the registry of crates: each version is put into a folder of its own below cargo's target folder.

use std::path::PathBuf;

use anyhow::Result;

use crate::workspace::{self, cargo, target_dir};

/// The program of that name and version, built where it is not there yet.
pub fn program(name: &str, version: &str) -> Result<PathBuf> {
    let root = target_dir()?.join("tools").join(format!("{name}-{version}"));
    let program = root.join("bin").join(name).with_extension(std::env::consts::EXE_EXTENSION);
    if !program.is_file() {
        println!("Building {name} {version} from its crate");
        let mut install = cargo(["install", "--locked", name, "--version", version, "--root"]);
        workspace::run(install.arg(root), &format!("cannot install {name} from its crate"))?;
    }
    Ok(program)
}

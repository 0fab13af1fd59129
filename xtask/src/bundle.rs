//! `cargo xtask bundle`: the plug-in in the shape that hosts expect.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use anyhow::{Context, Result};

use crate::workspace;

const PACKAGE: &str = "brunt";

/// The two plug-ins that a bundle run makes.
pub struct Bundles {
    /// `Brunt.clap`: a file, on macOS a folder.
    pub clap: PathBuf,
    /// `Brunt.vst3`: a folder.
    pub vst3: PathBuf,
    /// The file check of the same build, where one was built.
    pub program: PathBuf,
}

impl Bundles {
    /// Where the plug-in is to log while it is under test: beside the bundles.
    pub fn log(&self) -> PathBuf {
        self.clap.with_file_name("under-test.log")
    }
}

/// Builds the plug-in and bundles it.
pub fn run(release: bool) -> Result<Bundles> {
    nice_plug_xtask::build(&[PACKAGE.into()], profile(release))
        .context("the plug-in does not build")?;
    built(release)
}

/// Bundles the plug-in that has been built, into `bundled` in cargo's target folder.
pub fn built(release: bool) -> Result<Bundles> {
    let target = workspace::target_dir()?;
    let built = target.join(if release { "release" } else { "debug" });
    let stage = target.join("bundle-stage");
    stage_library(&built, &stage.join(if release { "release" } else { "debug" }))?;
    nice_plug_xtask::bundle(&stage, PACKAGE, profile(release), false).context("cannot bundle")?;

    let bundled = target.join("bundled");
    fs::create_dir_all(&bundled).with_context(|| format!("cannot create {}", bundled.display()))?;
    let bundles = Bundles {
        clap: bundled.join("Brunt.clap"),
        vst3: bundled.join("Brunt.vst3"),
        program: built.join(format!("{PACKAGE}{}", std::env::consts::EXE_SUFFIX)),
    };
    move_over(&stage.join("bundled/Brunt.clap"), &bundles.clap)?;
    move_over(&stage.join("bundled/Brunt.vst3"), &bundles.vst3)?;
    println!("Bundled: {}", bundles.clap.display());
    println!("         {}", bundles.vst3.display());
    Ok(bundles)
}

fn profile(release: bool) -> &'static [String] {
    static RELEASE: LazyLock<[String; 1]> = LazyLock::new(|| ["--release".to_owned()]);
    if release { &*RELEASE } else { &[] }
}

/// Puts the library alone where the bundler looks for it. The command-line program is called
/// `brunt` like the package, and the bundler would take it for the plug-in's standalone program.
fn stage_library(built: &Path, stage: &Path) -> Result<()> {
    let library =
        format!("{}{PACKAGE}{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    fs::create_dir_all(stage).with_context(|| format!("cannot create {}", stage.display()))?;
    let from = built.join(&library);
    fs::copy(&from, stage.join(&library))
        .with_context(|| format!("cannot copy {}", from.display()))?;
    Ok(())
}

/// Moves a file or folder over another. A host that has the old one open keeps it.
pub fn move_over(from: &Path, to: &Path) -> Result<()> {
    remove(to)?;
    fs::rename(from, to)
        .with_context(|| format!("cannot move {} to {}", from.display(), to.display()))
}

/// Removes a file or folder, if there is one.
pub fn remove(path: &Path) -> Result<()> {
    let removed = match fs::symlink_metadata(path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(error) => Err(error),
        Ok(metadata) if metadata.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
    };
    removed.with_context(|| format!("cannot remove {}", path.display()))
}

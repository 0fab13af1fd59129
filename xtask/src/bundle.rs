//! `cargo xtask bundle`: the plug-in in the shape that hosts expect.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use anyhow::{Context, Result};

use crate::{audio_unit, workspace};

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
    /// The folder that both lie in.
    fn folder(&self) -> PathBuf {
        self.clap.parent().unwrap_or(Path::new(".")).to_owned()
    }

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

/// The same with an Audio Unit beside it.
pub fn with_audio_unit(release: bool) -> Result<Bundles> {
    audio_unit::check()?;
    let mut arguments = profile(release).to_vec();
    arguments.extend(["--features".to_owned(), audio_unit::FEATURE.to_owned()]);
    nice_plug_xtask::build(&[PACKAGE.into()], &arguments).context("the plug-in does not build")?;
    let bundles = built(release)?;
    let library = workspace::target_dir()?.join("bundle-stage").join(folder(release));
    let component = audio_unit::bundle(&library.join(library_name()), &bundles.folder())?;
    println!("         {}", component.display());
    Ok(bundles)
}

/// Bundles the plug-in that has been built, into `bundled` in cargo's target folder.
pub fn built(release: bool) -> Result<Bundles> {
    let target = workspace::target_dir()?;
    let built = target.join(folder(release));
    let stage = target.join("bundle-stage");
    stage_library(&built, &stage.join(folder(release)))?;
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

/// Cargo's folder of a build.
fn folder(release: bool) -> &'static str {
    if release { "release" } else { "debug" }
}

/// Name of the library's file.
fn library_name() -> String {
    format!("{}{PACKAGE}{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX)
}

fn profile(release: bool) -> &'static [String] {
    static RELEASE: LazyLock<[String; 1]> = LazyLock::new(|| ["--release".to_owned()]);
    if release { &*RELEASE } else { &[] }
}

/// Puts the library alone where the bundler looks for it. The command-line program is called
/// `brunt` like the package, and the bundler would take it for the plug-in's standalone program.
fn stage_library(built: &Path, stage: &Path) -> Result<()> {
    let library = library_name();
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

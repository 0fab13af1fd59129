//! `cargo xtask bundle`: the plug-in in the shape that hosts expect.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result};

use crate::{audio_unit, property_list, workspace};

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

/// Which build of the plug-in is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Build {
    /// With full optimisation, as for real use.
    pub release: bool,
    /// The system that it is built for, by rustc's name; `None` for the one that it is built on.
    pub target: Option<&'static str>,
}

impl Build {
    /// For this system.
    pub fn here(release: bool) -> Self {
        Self { release, target: None }
    }

    /// What cargo is called with for this build.
    pub fn arguments(&self) -> Vec<String> {
        let mut arguments = Vec::new();
        if self.release {
            arguments.push("--release".to_owned());
        }
        if let Some(target) = self.target {
            arguments.extend(["--target".to_owned(), target.to_owned()]);
        }
        arguments
    }

    /// Cargo's folder of this system's builds.
    fn system_folder(&self) -> Result<PathBuf> {
        let target = workspace::target_dir()?;
        Ok(self.target.map_or_else(|| target.clone(), |system| target.join(system)))
    }

    /// Cargo's folder of this build.
    pub fn folder(&self) -> Result<PathBuf> {
        Ok(self.system_folder()?.join(self.profile()))
    }

    fn profile(&self) -> &'static str {
        if self.release { "release" } else { "debug" }
    }

    /// The system's name: `linux`, `macos` or `windows`.
    pub fn system(&self) -> &'static str {
        match self.target {
            None => std::env::consts::OS,
            Some(target) if target.contains("windows") => "windows",
            Some(target) if target.contains("darwin") => "macos",
            Some(_) => "linux",
        }
    }

    /// The processor's name.
    pub fn architecture(&self) -> &'static str {
        self.target.and_then(|target| target.split('-').next()).unwrap_or(std::env::consts::ARCH)
    }

    /// The end of a program's name.
    fn program_suffix(&self) -> &'static str {
        if self.system() == "windows" { ".exe" } else { "" }
    }

    /// Name of the library's file.
    fn library_name(&self) -> String {
        let (prefix, suffix) = match self.system() {
            "windows" => ("", ".dll"),
            "macos" => ("lib", ".dylib"),
            _ => ("lib", ".so"),
        };
        format!("{prefix}{PACKAGE}{suffix}")
    }
}

/// Builds the plug-in and bundles it.
pub fn run(build: &Build) -> Result<Bundles> {
    nice_plug_xtask::build(&[PACKAGE.into()], &build.arguments())
        .context("the plug-in does not build")?;
    built(build)
}

/// The same with an Audio Unit beside it.
pub fn with_audio_unit(build: &Build) -> Result<Bundles> {
    audio_unit::check()?;
    let mut arguments = build.arguments();
    arguments.extend(["--features".to_owned(), audio_unit::FEATURE.to_owned()]);
    nice_plug_xtask::build(&[PACKAGE.into()], &arguments).context("the plug-in does not build")?;
    let bundles = built(build)?;
    let library = build.folder()?.join(build.library_name());
    let component = audio_unit::bundle(&library, &bundles.folder())?;
    println!("         {}", component.display());
    Ok(bundles)
}

/// Bundles the plug-in that has been built, into `bundled` in cargo's folder of its system.
pub fn built(build: &Build) -> Result<Bundles> {
    let built = build.folder()?;
    let system = build.system_folder()?;
    let stage = system.join("bundle-stage");
    // The bundler looks for the library in a target folder's own places.
    let staged = build.target.map_or_else(|| stage.clone(), |target| stage.join(target));
    stage_library(&built, &staged.join(build.profile()), &build.library_name())?;
    nice_plug_xtask::bundle(&stage, PACKAGE, &build.arguments(), false).context("cannot bundle")?;

    let bundled = system.join("bundled");
    fs::create_dir_all(&bundled).with_context(|| format!("cannot create {}", bundled.display()))?;
    let bundles = Bundles {
        clap: bundled.join("Brunt.clap"),
        vst3: bundled.join("Brunt.vst3"),
        program: built.join(format!("{PACKAGE}{}", build.program_suffix())),
    };
    if build.system() == "macos" {
        for (folder, format) in [("Brunt.clap", "clap"), ("Brunt.vst3", "vst3")] {
            describe(&stage.join("bundled").join(folder), format)?;
        }
    }
    move_over(&stage.join("bundled/Brunt.clap"), &bundles.clap)?;
    move_over(&stage.join("bundled/Brunt.vst3"), &bundles.vst3)?;
    println!("Bundled: {}", bundles.clap.display());
    println!("         {}", bundles.vst3.display());
    Ok(bundles)
}

/// Tells macOS of our own version and name: the bundler names its own. What it has signed on a Mac is signed
/// again.
fn describe(bundle: &Path, format: &str) -> Result<()> {
    let list = bundle.join("Contents/Info.plist");
    fs::write(&list, property_list::info(format, env!("CARGO_PKG_VERSION")))
        .with_context(|| format!("cannot write {}", list.display()))?;
    if cfg!(target_os = "macos") {
        let mut sign = Command::new("codesign");
        workspace::run(sign.args(["--force", "--sign", "-"]).arg(bundle), "codesign")?;
    }
    Ok(())
}

/// Puts the library alone where the bundler looks for it. The command-line program is called
/// `brunt` like the package, and the bundler would take it for the plug-in's standalone program.
fn stage_library(built: &Path, stage: &Path, library: &str) -> Result<()> {
    fs::create_dir_all(stage).with_context(|| format!("cannot create {}", stage.display()))?;
    let from = built.join(library);
    fs::copy(&from, stage.join(library))
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

/// Gives a file the rights that packaged files have: everyone's to read, and to run where it is a program.
#[cfg(unix)]
pub fn set_rights(path: &Path, program: bool) -> Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let mode = if program { 0o755 } else { 0o644 };
    fs::set_permissions(path, fs::Permissions::from_mode(mode))
        .with_context(|| format!("cannot set the rights of {}", path.display()))
}

/// Other systems have no such rights.
#[cfg(not(unix))]
pub fn set_rights(path: &Path, _program: bool) -> Result<()> {
    anyhow::bail!("{}: expected a system with rights of files", path.display())
}

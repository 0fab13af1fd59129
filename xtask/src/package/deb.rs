//! The package for Debian and Ubuntu, built by `dpkg-deb`.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail, ensure};
use flate2::{Compression, GzBuilder};

use super::contents::{Item, Kind};
use super::standalone;
use super::version::{VERSION, date_s};
use crate::bundle;

/// What the editor loads once its window is opened. A host with windows has all of it; the program
/// and a scan need none.
const WINDOW: &str = "libgl1, libx11-6, libx11-xcb1, libxkbcommon0, libxkbcommon-x11-0";
/// What the stand-alone program loads to play on JACK, or on the server that stands for it.
const JACK: &str = "libjack-jackd2-0 | libjack0 | pipewire-jack";

/// Makes `brunt_VERSION_ARCHITECTURE.deb` in `folder`.
pub fn make(folder: &Path, items: &[Item]) -> Result<PathBuf> {
    let stage = folder.join("deb");
    let root = stage.join("root");
    let mut size = 0;
    for item in items {
        let (path, bytes) = placed(item)?;
        size += bytes.len();
        put(&root.join(path), &bytes, item.executable)?;
    }
    let architecture = said(Command::new("dpkg").arg("--print-architecture"))?;
    let control = format!(
        "Package: brunt\nVersion: {VERSION}\nArchitecture: {architecture}\n\
         Maintainer: The Brunt contributors <brunt@localhost>\nInstalled-Size: {}\n\
         Depends: {}\nRecommends: {WINDOW}, {JACK}, {}\nSection: sound\nPriority: optional\n\
         Description: punch meter for mixes of drums and loud guitars\n \
         Measures every hit of a mix and shows in decibels where punch is lost: to\n \
         limiting, timing, clutter, guitar gain or weak mids. A plug-in for CLAP and\n \
         VST3 hosts, the program brunt for bounced files, and the plug-in as a program\n \
         of its own for JACK.\n",
        size.div_ceil(1024),
        linked(&stage, &root, "Depends", &["usr/bin/brunt", "usr/lib/clap/Brunt.clap"])?,
        // Whoever measures files needs no sound.
        linked(&stage, &root, "Recommends", &[&format!("usr/bin/{}", standalone::NAME)])?,
    );
    put(&root.join("DEBIAN/control"), control.as_bytes(), false)?;
    let deb = folder.join(format!("brunt_{VERSION}_{architecture}.deb"));
    let mut build = Command::new("dpkg-deb");
    build.args(["--root-owner-group", "--build"]).arg(&root).arg(&deb);
    // Newer dates are set back to this one.
    said(build.env("SOURCE_DATE_EPOCH", date_s()?.to_string()))?;
    bundle::remove(&stage)?;
    Ok(deb)
}

/// Where an item goes, and its bytes there: manual pages and the list of changes are compressed, by
/// Debian's policy (chapter 12).
fn placed(item: &Item) -> Result<(PathBuf, Vec<u8>)> {
    let folder = match item.kind {
        Kind::Program => "usr/bin",
        Kind::Clap => "usr/lib/clap",
        Kind::Vst3 => "usr/lib/vst3",
        Kind::Manual => "usr/share/man/man1",
        Kind::Bash => "usr/share/bash-completion/completions",
        Kind::Zsh => "usr/share/zsh/vendor-completions",
        Kind::Fish => "usr/share/fish/vendor_completions.d",
        Kind::Document => "usr/share/doc/brunt",
    };
    let folder = Path::new(folder);
    let name = item.path.to_string_lossy();
    Ok(match (item.kind, &*name) {
        (Kind::Manual, name) => (folder.join(format!("{name}.gz")), compressed(&item.bytes)?),
        (Kind::Document, "CHANGELOG.md") => (folder.join("changelog.gz"), compressed(&item.bytes)?),
        // The file that every package has under this name.
        (Kind::Document, "LICENSE") => (folder.join("copyright"), item.bytes.clone()),
        _ => (folder.join(&item.path), item.bytes.clone()),
    })
}

fn compressed(bytes: &[u8]) -> Result<Vec<u8>> {
    let mut stream = GzBuilder::new().mtime(0).write(Vec::new(), Compression::best());
    stream.write_all(bytes)?;
    Ok(stream.finish()?)
}

fn put(path: &Path, bytes: &[u8], executable: bool) -> Result<()> {
    let folder = path.parent().context("a packaged file has a folder")?;
    fs::create_dir_all(folder).with_context(|| format!("cannot create {}", folder.display()))?;
    fs::write(path, bytes).with_context(|| format!("cannot write {}", path.display()))?;
    bundle::set_rights(path, executable)
}

/// The packages that these are linked with, in the versions that they need, by `dpkg-shlibdeps`.
fn linked(stage: &Path, root: &Path, how: &str, files: &[&str]) -> Result<String> {
    // It reads the source package's list, which needs no more than this.
    put(
        &stage.join("debian/control"),
        b"Source: brunt\n\nPackage: brunt\nArchitecture: any\n",
        false,
    )?;
    let mut command = Command::new("dpkg-shlibdeps");
    command.current_dir(stage).args(["-O", "--ignore-missing-info"]).arg(format!("-d{how}"));
    for file in files {
        let path = root.join(file);
        ensure!(path.is_file(), "{}: expected it to be packaged", path.display());
        command.arg(format!("-e{}", path.display()));
    }
    let text = said(&mut command)?;
    let packages = text.strip_prefix(&format!("shlibs:{how}=")).map(str::to_owned);
    packages.with_context(|| format!("dpkg-shlibdeps: {text:?}: expected shlibs:{how}"))
}

/// What a command prints, if it ends well.
fn said(command: &mut Command) -> Result<String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let output =
        command.stdin(Stdio::null()).output().with_context(|| format!("{name} cannot start"))?;
    if !output.status.success() {
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        bail!("{name}: {}: {}", output.status, error.trim());
    }
    Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
}

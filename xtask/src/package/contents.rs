//! What a package holds, whatever its kind.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail, ensure};

use super::materials;
use crate::bundle::{Build, Bundles};

/// What an item is; each kind of package has a folder for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The program `brunt`, and the stand-alone one.
    Program,
    /// The CLAP plug-in.
    Clap,
    /// The VST3 plug-in, a folder.
    Vst3,
    /// Manual pages.
    Manual,
    /// Completions for bash.
    Bash,
    /// Completions for zsh.
    Zsh,
    /// Completions for fish.
    Fish,
    /// Licences, the bill of materials, what to read first.
    Document,
}

/// One file.
pub struct Item {
    pub kind: Kind,
    /// Below the folder of its kind.
    pub path: PathBuf,
    pub bytes: Vec<u8>,
    pub executable: bool,
}

/// Documents that are packaged as they are.
const DOCUMENTS: [&str; 7] = [
    "README.md",
    "docs/install.md",
    "CHANGELOG.md",
    "LICENSE",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "THIRD-PARTY.md",
];

/// All that is packaged of a build, sorted. Manual pages and completions are made by a program that runs
/// here, `texts`: the built one itself, or one of the same sources. The bill of materials is that of all
/// `systems` that the package is for, by rustc's names.
///
/// `place` is a folder to work in.
pub fn of(
    build: &Build,
    systems: &[&str],
    bundles: &Bundles,
    standalone: Option<&Path>,
    texts: &Path,
    place: &Path,
) -> Result<Vec<Item>> {
    let mut items = Vec::new();
    for program in [Some(&*bundles.program), standalone].into_iter().flatten() {
        let name = program.file_name().context("a program has a name")?;
        items.push(item(Kind::Program, program, Path::new(name), true)?);
    }
    // Either may be a file or a folder, by the system.
    for (kind, bundle) in [(Kind::Clap, &bundles.clap), (Kind::Vst3, &bundles.vst3)] {
        let parent = bundle.parent().context("a bundle has a folder")?;
        for path in files_below(bundle)? {
            // macOS has its libraries there, and takes them for programs.
            let executable = path.parent().is_some_and(|folder| folder.ends_with("Contents/MacOS"));
            items.push(item(kind, &path, path.strip_prefix(parent)?, executable)?);
        }
    }
    for document in DOCUMENTS {
        let name = Path::new(document).file_name().context("a document has a name")?;
        items.push(item(Kind::Document, Path::new(document), Path::new(name), false)?);
    }
    items.push(Item {
        kind: Kind::Document,
        path: "brunt.cdx.json".into(),
        bytes: materials::bill(systems)?,
        executable: false,
    });
    // Windows knows neither.
    if build.system() != "windows" {
        items.extend(from_program(texts, place)?);
    }
    items.sort_by(|a, b| (a.kind, &a.path).cmp(&(b.kind, &b.path)));
    Ok(items)
}

fn item(kind: Kind, from: &Path, path: &Path, executable: bool) -> Result<Item> {
    let bytes = fs::read(from).with_context(|| format!("cannot read {}", from.display()))?;
    Ok(Item { kind, path: path.to_owned(), bytes, executable })
}

/// Manual pages and completions.
fn from_program(program: &Path, place: &Path) -> Result<Vec<Item>> {
    let folder = place.join("manuals");
    let out = folder.to_str().context("the target folder's name is not UTF-8")?;
    said(program, &["man", "--out", out])?;
    let mut items = Vec::new();
    for path in files_below(&folder)? {
        items.push(item(Kind::Manual, &path, path.strip_prefix(&folder)?, false)?);
    }
    ensure!(!items.is_empty(), "{}: no manual page was written", folder.display());
    crate::bundle::remove(&folder)?;
    for (kind, shell, name) in [
        (Kind::Bash, "bash", "brunt"),
        (Kind::Zsh, "zsh", "_brunt"),
        (Kind::Fish, "fish", "brunt.fish"),
    ] {
        let bytes = said(program, &["completions", shell])?;
        items.push(Item { kind, path: name.into(), bytes, executable: false });
    }
    Ok(items)
}

fn said(program: &Path, arguments: &[&str]) -> Result<Vec<u8>> {
    let output = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .with_context(|| format!("{} cannot start", program.display()))?;
    if !output.status.success() {
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        bail!("brunt {}: {}: {}", arguments.join(" "), output.status, error.trim());
    }
    Ok(output.stdout)
}

/// Every file below a folder, sorted; a file is its own only one.
fn files_below(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(folder) = waiting.pop() {
        if folder.is_file() {
            found.push(folder);
            continue;
        }
        let list =
            fs::read_dir(&folder).with_context(|| format!("cannot list {}", folder.display()))?;
        for entry in list {
            waiting.push(entry?.path());
        }
    }
    found.sort();
    Ok(found)
}

//! `cargo xtask install`: the plug-ins into the user's own plug-in folders.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::SystemTime;

use anyhow::{Context, Result, bail};

use crate::bundle::{self, Build};

/// Bytes that every build of Brunt holds: its CLAP id.
const OWN_MARK: &[u8] = b"org.brunt.brunt";

/// Builds for real use and copies.
pub fn run(force: bool) -> Result<ExitCode> {
    let (clap_folder, vst3_folder) = folders()?;
    let bundles = bundle::run(&Build::here(true))?;
    // Both are judged before either is written.
    let copies = [
        (bundles.clap.as_path(), clap_folder.join("Brunt.clap")),
        (bundles.vst3.as_path(), vst3_folder.join("Brunt.vst3")),
    ];
    if !force {
        for (from, to) in &copies {
            may_replace(from, to)?;
        }
    }
    for (from, to) in &copies {
        copy_over(from, to)?;
        println!("Installed: {}", to.display());
    }
    println!("Rescan the plug-ins in your host if it does not find Brunt by itself.");
    Ok(ExitCode::SUCCESS)
}

/// The user's own folders for CLAP and VST3, as the two formats' specifications give them.
fn folders() -> Result<(PathBuf, PathBuf)> {
    let of = |name: &str| {
        env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
            .with_context(|| format!("{name} is not set: expected a folder to install under"))
    };
    Ok(if cfg!(target_os = "macos") {
        let base = of("HOME")?.join("Library/Audio/Plug-Ins");
        (base.join("CLAP"), base.join("VST3"))
    } else if cfg!(windows) {
        let base = of("LOCALAPPDATA")?.join("Programs").join("Common");
        (base.join("CLAP"), base.join("VST3"))
    } else {
        let base = of("HOME")?;
        (base.join(".clap"), base.join(".vst3"))
    })
}

/// Refuses where something stands that is not Brunt, or a Brunt built after this one.
fn may_replace(from: &Path, to: &Path) -> Result<()> {
    if !to.exists() {
        return Ok(());
    }
    let (old, new) = (files(to)?, files(from)?);
    if old.iter().map(|file| &file.bytes).eq(new.iter().map(|file| &file.bytes)) {
        return Ok(());
    }
    if !old.iter().any(|file| holds(&file.bytes, OWN_MARK)) {
        bail!(
            "{}: is not a build of Brunt; move it away, or overwrite it with --force",
            to.display()
        );
    }
    let newest = |tree: &[File]| tree.iter().map(|file| file.modified).max();
    if newest(&old) > newest(&new) {
        bail!(
            "{}: is newer than the build in {}; overwrite it with --force",
            to.display(),
            from.display()
        );
    }
    Ok(())
}

/// Copies beside the target first, so that a host never sees half a plug-in. The time of the
/// build is kept: it tells later which of two is newer.
fn copy_over(from: &Path, to: &Path) -> Result<()> {
    let folder = to.parent().context("a plug-in folder has a parent")?;
    fs::create_dir_all(folder).with_context(|| format!("cannot create {}", folder.display()))?;
    let part = to.with_extension("part");
    bundle::remove(&part)?;
    for file in files(from)? {
        let copy =
            if file.path.as_os_str().is_empty() { part.clone() } else { part.join(&file.path) };
        let parent = copy.parent().context("a copied file has a parent")?;
        fs::create_dir_all(parent)
            .with_context(|| format!("cannot create {}", parent.display()))?;
        fs::write(&copy, &file.bytes)
            .with_context(|| format!("cannot write {}", copy.display()))?;
        fs::File::options()
            .write(true)
            .open(&copy)
            .and_then(|open| {
                open.set_permissions(file.permissions)?;
                open.set_modified(file.modified)
            })
            .with_context(|| format!("cannot set the time of {}", copy.display()))?;
    }
    bundle::move_over(&part, to)
}

struct File {
    /// Relative to the bundle; empty where the bundle is the file itself.
    path: PathBuf,
    bytes: Vec<u8>,
    modified: SystemTime,
    permissions: fs::Permissions,
}

/// Every file of a bundle, sorted by its path.
fn files(bundle: &Path) -> Result<Vec<File>> {
    let mut found = Vec::new();
    let mut waiting = vec![PathBuf::new()];
    while let Some(path) = waiting.pop() {
        // Joining an empty path would add a separator, which no file has.
        let full = if path.as_os_str().is_empty() { bundle.to_owned() } else { bundle.join(&path) };
        let read = || -> std::io::Result<Option<File>> {
            let metadata = fs::metadata(&full)?;
            if metadata.is_dir() {
                return Ok(None);
            }
            Ok(Some(File {
                bytes: fs::read(&full)?,
                modified: metadata.modified()?,
                permissions: metadata.permissions(),
                path: path.clone(),
            }))
        };
        match read().with_context(|| format!("cannot read {}", full.display()))? {
            Some(file) => found.push(file),
            None => {
                for entry in fs::read_dir(&full)
                    .with_context(|| format!("cannot read {}", full.display()))?
                {
                    waiting.push(path.join(entry?.file_name()));
                }
            }
        }
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(found)
}

fn holds(bytes: &[u8], mark: &[u8]) -> bool {
    bytes.windows(mark.len()).any(|window| window == mark)
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn bundle_of(path: &Path, content: &[u8], modified: SystemTime) {
        let library = path.join("Contents").join("Brunt.so");
        fs::create_dir_all(library.parent().expect("it has one")).expect("a folder");
        fs::write(&library, content).expect("a file");
        let open = fs::File::options().write(true).open(&library).expect("the file");
        open.set_modified(modified).expect("its time");
    }

    #[test]
    fn a_foreign_or_newer_plug_in_is_left_alone() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let (new, old) = (folder.path().join("new.vst3"), folder.path().join("old.vst3"));
        let now = SystemTime::now();
        let earlier = now - Duration::from_secs(60);
        let own = |tail: &[u8]| [OWN_MARK, tail].concat();

        bundle_of(&new, &own(b"1"), now);
        may_replace(&new, &old).expect("nothing stands there");
        bundle_of(&old, b"somebody else's", earlier);
        let refused = may_replace(&new, &old).expect_err("foreign").to_string();
        assert!(refused.contains("not a build of Brunt") && refused.contains("old.vst3"));
        bundle_of(&old, &own(b"0"), earlier);
        may_replace(&new, &old).expect("older");
        bundle_of(&old, &own(b"2"), now + Duration::from_secs(60));
        let refused = may_replace(&new, &old).expect_err("newer").to_string();
        assert!(refused.contains("newer"));
        bundle_of(&old, &own(b"1"), now + Duration::from_secs(60));
        may_replace(&new, &old).expect("the same");
    }

    #[test]
    fn a_copy_is_whole_keeps_its_time_and_leaves_no_part_behind() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let (from, to) = (folder.path().join("a.vst3"), folder.path().join("b").join("a.vst3"));
        let built = SystemTime::UNIX_EPOCH + Duration::from_secs(1_000_000_000);
        bundle_of(&from, b"library", built);
        for _ in 0..2 {
            copy_over(&from, &to).expect("a copy");
        }
        let copied = files(&to).expect("the copy");
        assert_eq!(copied.len(), 1);
        assert_eq!((copied[0].bytes.as_slice(), copied[0].modified), (&b"library"[..], built));
        assert_eq!(fs::read_dir(folder.path().join("b")).expect("a folder").count(), 1);
    }

    #[test]
    fn a_single_file_is_copied_as_one() {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let (from, to) = (folder.path().join("a.clap"), folder.path().join("b.clap"));
        fs::write(&from, b"library").expect("a file");
        copy_over(&from, &to).expect("a copy");
        assert_eq!(fs::read(&to).expect("the copy"), b"library");
    }
}

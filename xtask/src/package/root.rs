//! A bare system to install in: Debian's smallest, made by `debootstrap`, entered by `chroot`.

use std::collections::BTreeMap;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail, ensure};

use super::sums;
use crate::{bundle, workspace};

/// A system below a folder.
pub struct Root(PathBuf);

/// Every file, folder and link of a system, each with what it is: kind, rights, and content.
pub type Listing = BTreeMap<PathBuf, String>;

/// What the package manager's own books are: they change with every package.
const BOOKS: [&str; 2] = ["var/lib/dpkg", "var/log"];

impl Root {
    /// A fresh one in `place`. What `debootstrap` makes is kept there for the next time.
    pub fn fresh(place: &Path) -> Result<Self> {
        ensure!(
            said(Command::new("id").arg("-u"))?.trim() == "0",
            "the check installs in a system of its own: run it as root"
        );
        let base = place.join("base");
        if !base.join("made").is_file() {
            remove(&base)?;
            println!("debootstrap: the smallest system of this release");
            let codename =
                said(Command::new("sh").args(["-c", ". /etc/os-release; echo $VERSION_CODENAME"]))?;
            let mut make = Command::new("debootstrap");
            make.args(["--variant=minbase", codename.trim()]).arg(&base).stdout(Stdio::null());
            workspace::run(&mut make, "debootstrap")?;
            fs::write(base.join("made"), codename)?;
        }
        let root = place.join("root");
        remove(&root)?;
        let mut copy = Command::new("cp");
        workspace::run(copy.arg("--archive").arg(&base).arg(&root), "cp")?;
        Ok(Self(root))
    }

    /// Copies a file of this system into the root, under a path of the root.
    pub fn put(&self, from: &Path, to: &str) -> Result<()> {
        let to = self.0.join(to.trim_start_matches('/'));
        fs::copy(from, &to)
            .map(drop)
            .with_context(|| format!("cannot copy {} to {}", from.display(), to.display()))
    }

    /// Removes a file or folder of the root.
    pub fn remove(&self, path: &str) -> Result<()> {
        bundle::remove(&self.0.join(path.trim_start_matches('/')))
    }

    /// Runs a line of shell in the root, and gives what it prints. Nothing of this system's
    /// environment reaches it.
    pub fn sh(&self, line: &str) -> Result<String> {
        let mut command = Command::new("chroot");
        command.arg(&self.0).args(["/bin/sh", "-euc", line]);
        command
            .env_clear()
            .env("PATH", "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin");
        command.env("HOME", HOME).env("LC_ALL", "C.UTF-8");
        said(&mut command).with_context(|| format!("in the bare system: {line}"))
    }

    /// Everything that is there, the package manager's books left out.
    pub fn list(&self) -> Result<Listing> {
        let mut found = Listing::new();
        let mut waiting = vec![PathBuf::new()];
        while let Some(folder) = waiting.pop() {
            let full = self.0.join(&folder);
            for entry in
                fs::read_dir(&full).with_context(|| format!("cannot list {}", full.display()))?
            {
                let path = folder.join(entry?.file_name());
                if BOOKS.iter().any(|books| path.starts_with(books)) {
                    continue;
                }
                let full = self.0.join(&path);
                let metadata = fs::symlink_metadata(&full)?;
                let mode = metadata.permissions().mode();
                let what = if metadata.is_dir() {
                    waiting.push(path.clone());
                    format!("{mode:o}")
                } else if metadata.is_file() {
                    format!("{mode:o} {}", sums::hex(&fs::read(&full)?))
                } else if metadata.is_symlink() {
                    format!("{mode:o} {}", fs::read_link(&full)?.display())
                } else {
                    format!("{mode:o}")
                };
                found.insert(path, what);
            }
        }
        Ok(found)
    }
}

/// The home folder of whoever uses the bare system.
pub const HOME: &str = "/srv/mixer";

/// What differs between two listings, a line each.
pub fn differences(before: &Listing, after: &Listing) -> Vec<String> {
    let gone = before.keys().filter(|path| !after.contains_key(*path));
    let mut lines: Vec<_> = gone.map(|path| format!("gone: {}", path.display())).collect();
    for (path, what) in after {
        match before.get(path) {
            None => lines.push(format!("left behind: {}", path.display())),
            Some(old) if old != what => lines.push(format!("changed: {}", path.display())),
            Some(_) => {}
        }
    }
    lines
}

/// Removes a root, unless something is mounted below it.
fn remove(root: &Path) -> Result<()> {
    let mounts = fs::read_to_string("/proc/self/mounts").context("cannot read the mounts")?;
    if let Some(place) = mounts
        .lines()
        .filter_map(|line| line.split(' ').nth(1))
        .find(|at| Path::new(at).starts_with(root))
    {
        bail!("{place} is mounted: unmount it before the next check");
    }
    bundle::remove(root)
}

fn said(command: &mut Command) -> Result<String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let output =
        command.stdin(Stdio::null()).output().with_context(|| format!("{name} cannot start"))?;
    if !output.status.success() {
        let error = String::from_utf8_lossy(&output.stderr).into_owned()
            + &String::from_utf8_lossy(&output.stdout);
        bail!("{name}: {}: {}", output.status, error.trim());
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_gone_left_behind_or_changed_is_named() {
        let list = |items: &[(&str, &str)]| -> Listing {
            items.iter().map(|(path, what)| (PathBuf::from(path), (*what).to_owned())).collect()
        };
        let before = list(&[("a", "1"), ("b", "1"), ("c", "1")]);
        assert!(differences(&before, &before).is_empty());
        let after = list(&[("a", "1"), ("b", "2"), ("d", "1")]);
        assert_eq!(differences(&before, &after), ["gone: c", "changed: b", "left behind: d"]);
    }
}

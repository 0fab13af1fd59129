//! Debian's package tools.

use std::collections::BTreeSet;
use std::io::{self, IsTerminal};
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

use super::packages::Package;
use crate::workspace::answers;

/// Whether this is a system that is kept with apt.
pub fn is_here() -> bool {
    Path::new("/etc/debian_version").exists()
        && answers("dpkg-query", &["--version"])
        && answers("apt-get", &["--version"])
}

/// Those of the packages that are not installed.
pub fn missing(packages: &[Package]) -> Result<Vec<Package>> {
    let output = Command::new("dpkg-query")
        .args(["--show", "--showformat=${db:Status-Abbrev} ${Package}\n"])
        .args(packages.iter().map(|package| package.name))
        .stdin(Stdio::null())
        .output()
        .context("cannot run dpkg-query")?;
    // It ends with 1 where it knows one of the names not at all, so the list counts, not the
    // status.
    let installed = installed(&String::from_utf8_lossy(&output.stdout));
    Ok(packages.iter().filter(|package| !installed.contains(package.name)).copied().collect())
}

/// Names in `dpkg-query`'s list that are installed, whole and without error: `i` in the second
/// place and nothing in the third, whatever is meant to become of them (the first).
fn installed(list: &str) -> BTreeSet<String> {
    list.lines()
        .filter(|line| line.get(1..3) == Some("i "))
        .filter_map(|line| line.get(3..))
        .map(|name| name.trim().to_owned())
        .collect()
}

/// Installs these packages.
pub fn install(packages: &[Package]) -> Result<()> {
    let names: Vec<_> = packages.iter().map(|package| package.name).collect();
    let root = Root::find(&names)?;
    // Package lists are fetched where they cannot name what is wanted, and once more where the
    // files that they name are gone.
    let mut updated = false;
    if !names.iter().all(|name| has_candidate(name)) {
        root.apt_get(&["update"])?;
        updated = true;
    }
    let mut install = vec!["install", "--yes", "--no-install-recommends"];
    install.extend(&names);
    let installed = root.apt_get(&install).or_else(|error| {
        if updated {
            return Err(error);
        }
        root.apt_get(&["update"])?;
        root.apt_get(&install)
    });
    installed.with_context(|| format!("cannot install {}", names.join(" ")))?;
    let still = missing(packages)?;
    if !still.is_empty() {
        let names: Vec<_> = still.iter().map(|package| package.name).collect();
        bail!("apt-get ended well, but these are still missing: {}", names.join(" "));
    }
    Ok(())
}

fn has_candidate(name: &str) -> bool {
    answers("apt-cache", &["show", "--no-all-versions", name])
}

/// How apt-get gets the right to install.
enum Root {
    Already,
    Sudo { ask: bool },
}

impl Root {
    fn find(names: &[&str]) -> Result<Self> {
        let id = Command::new("id").arg("-u").stdin(Stdio::null()).output();
        if id.is_ok_and(|output| output.stdout.trim_ascii() == b"0") {
            return Ok(Self::Already);
        }
        let by_hand = format!("apt-get install {}", names.join(" "));
        if !answers("sudo", &["--version"]) {
            bail!("installing needs root, and there is no sudo; run as root: {by_hand}");
        }
        if answers("sudo", &["--non-interactive", "true"]) {
            println!("Installing needs root: using sudo.");
            return Ok(Self::Sudo { ask: false });
        }
        if std::env::var_os("CI").is_some() || !io::stdin().is_terminal() {
            bail!("installing needs root, and sudo would ask; run as root: {by_hand}");
        }
        println!("Installing needs root: sudo may ask for your password.");
        Ok(Self::Sudo { ask: true })
    }

    fn apt_get(&self, arguments: &[&str]) -> Result<()> {
        // Another apt may be running at the same time, such as a nightly upgrade: wait for it.
        let mut call = vec!["apt-get", "-o", "DPkg::Lock::Timeout=300", "--quiet"];
        call.extend(arguments);
        println!("$ {}", call.join(" "));
        let mut command = match self {
            Self::Already => Command::new("env"),
            Self::Sudo { .. } => {
                let mut sudo = Command::new("sudo");
                sudo.arg("env");
                sudo
            }
        };
        command.arg("DEBIAN_FRONTEND=noninteractive").args(&call);
        if !matches!(self, Self::Sudo { ask: true }) {
            command.stdin(Stdio::null());
        }
        crate::workspace::run(&mut command, &format!("apt-get {}", arguments[0]))
    }
}

#[cfg(test)]
mod tests {
    use super::installed;

    #[test]
    fn only_whole_packages_count_as_installed() {
        let list = "ii  xvfb\nrc  ffmpeg\nun  libgl1\niU  xauth\niiR sox\nhi  gcc\n";
        let found = installed(list);
        assert_eq!(found.iter().map(String::as_str).collect::<Vec<_>>(), ["gcc", "xvfb"]);
    }
}

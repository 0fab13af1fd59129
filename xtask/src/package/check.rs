//! `cargo xtask package --check`: each package is installed in a bare system, used, and removed, and
//! the lists of files before and after are the same. The stand-alone program is started on JACK here.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

use super::root::{self, Listing, Root};
use super::{on_jack, standalone};
use crate::report::{self, Row, Seen};
use crate::test::cargo_tests;
use crate::{bundle, songs, workspace};

/// Installs, uses and removes both packages; prints a table.
pub(super) fn run(tar_gz: &Path, package: &Path) -> Result<ExitCode> {
    let place = workspace::target_dir()?.join("package-check");
    fs::create_dir_all(&place).with_context(|| format!("cannot create {}", place.display()))?;
    let tools = Tools::build(&place)?;
    let mut rows = Vec::new();
    rows.push(Row { what: "deb", seen: deb(&tools.fresh(&place)?, package, &tools) });
    for (what, system) in [("tar.gz, for everyone", true), ("tar.gz, for one user", false)] {
        let seen = archive(&tools.fresh(&place)?, tar_gz, &tools, system);
        rows.push(Row { what, seen });
    }
    let seen = unpacked(&place, tar_gz).and_then(|program| on_jack::started(&program));
    rows.push(Row { what: "stand-alone program, on JACK", seen });
    println!("== Packages");
    Ok(report::print(&rows))
}

/// What is put into the bare system for the use of a package, and taken out again.
struct Tools {
    /// A mix to measure.
    mix: PathBuf,
    /// What the program of this system says of it.
    expected: Value,
    /// The tests of the host harness.
    tests: PathBuf,
    /// ALSA's library in its packages.
    sound: Vec<PathBuf>,
}

/// The folders that the packages are installed to.
struct Places {
    clap: &'static str,
    vst3: &'static str,
    rest: &'static str,
    manuals: &'static str,
    zsh: &'static str,
}

impl Tools {
    fn build(place: &Path) -> Result<Self> {
        // The development build's program: other optimisation, the same numbers.
        let mut build = workspace::cargo(["build"]);
        build.args(workspace::DEVELOPMENT);
        workspace::run(&mut build, "cargo build")?;
        let mix = songs::mix(place)?;
        let expected = songs::check(&mix, &[])?;
        let tests = cargo_tests::programs(&["--test", "hosts"])?;
        let tests = tests.into_iter().next().context("cargo names no program of tests")?;
        Ok(Self { mix, expected, tests: tests.path, sound: sound(place)? })
    }

    /// A fresh bare system with ALSA's library, as all have that play sound: the stand-alone program is
    /// linked with it.
    fn fresh(&self, place: &Path) -> Result<Root> {
        let root = Root::fresh(place)?;
        for package in &self.sound {
            root.put(package, "/sound.deb")?;
            root.sh("dpkg --unpack /sound.deb")?;
            root.remove("/sound.deb")?;
        }
        root.sh("dpkg --configure --pending")?;
        Ok(root)
    }
}

/// Fetches the packages that ALSA's library is in on this system.
fn sound(place: &Path) -> Result<Vec<PathBuf>> {
    let folder = place.join("sound");
    bundle::remove(&folder)?;
    fs::create_dir_all(&folder).with_context(|| format!("cannot create {}", folder.display()))?;
    // Its name is not the same everywhere: `PACKAGE:ARCHITECTURE: FILE`.
    let mut command = Command::new("dpkg-query");
    let output = command.args(["--search", "*/libasound.so.2"]).output().context("dpkg-query")?;
    let found = String::from_utf8(output.stdout)?;
    let name = found.split(':').next().unwrap_or_default();
    ensure!(!name.is_empty(), "dpkg-query: {}: no package has libasound.so.2", output.status);
    let mut fetch = Command::new("apt-get");
    fetch.current_dir(&folder).args(["download", "--quiet", name, "libasound2-data"]);
    workspace::run(&mut fetch, "apt-get download")?;
    let list = fs::read_dir(&folder)?.map(|entry| Ok(entry?.path()));
    list.collect::<Result<Vec<_>>>()
}

/// The stand-alone program of an archive, unpacked here.
fn unpacked(place: &Path, archive: &Path) -> Result<PathBuf> {
    let folder = place.join("unpacked");
    bundle::remove(&folder)?;
    fs::create_dir_all(&folder).with_context(|| format!("cannot create {}", folder.display()))?;
    let mut unpack = Command::new("tar");
    unpack.arg("-xzf").arg(archive).arg("-C").arg(&folder).arg("--strip-components=1");
    workspace::run(&mut unpack, "tar")?;
    Ok(folder.join("bin").join(standalone::NAME))
}

fn deb(root: &Root, deb: &Path, tools: &Tools) -> Result<Seen> {
    let before = root.list()?;
    root.put(deb, "/brunt.deb")?;
    root.sh("dpkg --install /brunt.deb")?;
    root.remove("/brunt.deb")?;
    let installed = root::differences(&before, &root.list()?).len();
    let used = used(
        root,
        tools,
        &Places {
            clap: "/usr/lib/clap",
            vst3: "/usr/lib/vst3",
            rest: "/usr",
            manuals: "brunt.1.gz",
            zsh: "vendor-completions",
        },
    )?;
    // After removal only what is meant to be configured may stay, of which there is nothing.
    root.sh("dpkg --remove brunt")?;
    same(&before, &root.list()?).context("after dpkg --remove")?;
    root.sh("dpkg --purge brunt")?;
    same(&before, &root.list()?).context("after dpkg --purge")?;
    let known = root.sh("dpkg-query --show || true")?;
    ensure!(!known.contains("brunt"), "dpkg still knows brunt after dpkg --purge");
    Ok(Seen::Well(format!("{installed} files and folders came and went; {used}")))
}

fn archive(root: &Root, archive: &Path, tools: &Tools, system: bool) -> Result<Seen> {
    root.sh(&format!("mkdir -p {}", root::HOME))?;
    let before = root.list()?;
    root.put(archive, "/brunt.tar.gz")?;
    root.sh("mkdir /unpacked && tar -xzf /brunt.tar.gz -C /unpacked --strip-components=1")?;
    root.remove("/brunt.tar.gz")?;
    let (option, places) = if system {
        let places = Places {
            clap: "/usr/lib/clap",
            vst3: "/usr/lib/vst3",
            rest: "/usr/local",
            manuals: "brunt.1",
            zsh: "site-functions",
        };
        (" --system", places)
    } else {
        let places = Places {
            clap: "/srv/mixer/.clap",
            vst3: "/srv/mixer/.vst3",
            rest: "/srv/mixer/.local",
            manuals: "brunt.1",
            zsh: "site-functions",
        };
        ("", places)
    };
    root.sh(&format!("/unpacked/install.sh{option}"))?;
    let unpacked = |listing: Listing| -> Listing {
        listing.into_iter().filter(|(path, _)| !path.starts_with("unpacked")).collect()
    };
    let installed = root::differences(&before, &unpacked(root.list()?)).len();
    let used = used(root, tools, &places)?;
    root.sh(&format!("/unpacked/install.sh{option} --remove"))?;
    root.remove("/unpacked")?;
    let mut left = root::differences(&before, &root.list()?);
    // A folder of the base system that was empty goes with what was put into it.
    left.retain(|line| !line.starts_with("gone: usr/local/"));
    ensure!(left.is_empty(), "after --remove: {}", left.join("; "));
    Ok(Seen::Well(format!("{installed} files and folders came and went; {used}")))
}

fn same(before: &Listing, after: &Listing) -> Result<()> {
    let left = root::differences(before, after);
    ensure!(left.is_empty(), "{}", left.join("; "));
    Ok(())
}

/// Uses what is installed: the program, its pages and completions, and the plug-ins in the host
/// harness. Takes away what it has brought.
fn used(root: &Root, tools: &Tools, places: &Places) -> Result<String> {
    let Places { clap, vst3, rest, manuals, zsh } = places;
    root.sh("mkdir /use")?;
    root.put(&tools.mix, "/use/mix.wav")?;
    root.put(&tools.tests, "/use/hosts")?;
    let says = root.sh(&format!("PATH={rest}/bin; brunt check /use/mix.wav"))?;
    ensure!(says.contains("Hit contrast"), "brunt check prints {says:?}");
    let json = root.sh(&format!("PATH={rest}/bin; brunt check --json - /use/mix.wav"))?;
    let json: Value = serde_json::from_str(&json).context("brunt printed no JSON")?;
    let hits = json["punch"]["hits"].as_u64().unwrap_or_default();
    ensure!(hits > 0, "brunt check finds no hits");
    for value in ["/punch/contrast_db", "/loudness/integrated_lufs", "/punch/hits"] {
        let of = |json: &Value| json.pointer(value).and_then(Value::as_f64);
        let (here, there) = (of(&tools.expected), of(&json));
        let near = here.zip(there).is_some_and(|(a, b)| (a - b).abs() <= 1e-6);
        ensure!(near, "{value}: {there:?} as installed, {here:?} as built");
    }
    let says = root.sh(&format!("PATH={rest}/bin; {} --help", standalone::NAME))?;
    ensure!(says.contains("--backend"), "{} --help prints {says:?}", standalone::NAME);
    let page = format!("{rest}/share/man/man1/{manuals}");
    let page = root.sh(&format!("gzip -dcf {page} | head -n 5"))?;
    ensure!(page.contains(".TH"), "the manual page begins {page:?}");
    root.sh(&format!("bash -n {rest}/share/bash-completion/completions/brunt"))?;
    root.sh(&format!("test -s {rest}/share/zsh/{zsh}/_brunt"))?;
    root.sh(&format!("test -s {rest}/share/fish/vendor_completions.d/brunt.fish"))?;
    let library = format!("{vst3}/Brunt.vst3/Contents/{}-linux/Brunt.so", std::env::consts::ARCH);
    root.sh(&format!("BRUNT_BUNDLE={library} /use/hosts formats::"))?;
    let filters = cargo_tests::OF_INSTALLED.join(" ");
    let line = format!("BRUNT_BUNDLE={clap}/Brunt.clap NICE_LOG=/dev/null /use/hosts {filters}");
    let counts = cargo_tests::counts(&root.sh(&line)?);
    if counts.passed == 0 || counts.failed > 0 {
        bail!("the host harness: {counts:?}");
    }
    root.remove("/use")?;
    Ok(format!("{hits} hits read, {} host tests passed", counts.passed))
}

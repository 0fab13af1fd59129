//! Which Debian packages each task needs, and why.

use clap::ValueEnum;

/// What to prepare for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Group {
    /// `cargo xtask demo`
    Demo,
    /// `cargo xtask test`: everything
    Test,
    /// The plug-in's standalone program
    Standalone,
    /// `cargo xtask bench`
    Bench,
    /// `cargo xtask fuzz --guided`
    Fuzz,
    /// `cargo xtask hosts`
    Hosts,
    /// `cargo xtask package`
    Package,
    /// `cargo xtask package --check`
    PackageCheck,
    /// `cargo xtask windows`
    Windows,
}

/// One Debian package.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Package {
    /// Its name in Debian and Ubuntu.
    pub name: &'static str,
    /// What it is needed for.
    pub why: &'static str,
}

const fn package(name: &'static str, why: &'static str) -> Package {
    Package { name, why }
}

const BUILD: &[Package] = &[
    package("gcc", "links every Rust program"),
    package("libc6-dev", "the C library to link with"),
];

/// The editor loads its libraries at run time, so that building needs none of them.
const SCREEN: &[Package] = &[
    package("xvfb", "a display without a screen, to draw the editor on"),
    package("xauth", "lets programs onto that display"),
    package("libgl1", "OpenGL, which the editor draws with"),
    package("libegl1", "OpenGL's link to the display"),
    package("libgl1-mesa-dri", "OpenGL without a graphics card"),
    package("libx11-6", "the editor's window"),
    package("libx11-xcb1", "the editor's window"),
    package("libxkbcommon0", "the editor's keyboard"),
    package("libxkbcommon-x11-0", "the editor's keyboard"),
];

const STANDALONE: &[Package] = &[
    package("pkg-config", "finds the two audio systems' headers"),
    package("libasound2-dev", "ALSA's headers, for the standalone program"),
    package("libjack-jackd2-dev", "JACK's headers, for the standalone program"),
];

const TEST: &[Package] = &[
    package("ffmpeg", "an independent limiter and loudness meter to check against"),
    package("sox", "a second independent processor to check against"),
    package("chromium", "a browser without a window, to open the HTML report in"),
    package("poppler-utils", "counts and reads the pages that the report prints to"),
    package("bsdutils", "`script`: a terminal for the command line to write to"),
    package("codespell", "finds misspelt words in documents and sentences"),
    package("python3-venv", "keeps lychee, which finds links to nowhere, to itself"),
    package("sonic-pi-samples", "real drum hits to check the hit detector with"),
    package("hydrogen-drumkits", "real drum kits to check the hit detector with"),
    package("avldrums.lv2-soundfont", "a real acoustic drum kit to check with"),
    package("fluid-soundfont-gm", "bass and guitars, to check in a full mix"),
];

const BENCH: &[Package] = &[
    package("ffmpeg", "its loudness filter, to measure a file against"),
    package("valgrind", "counts instructions, whatever else the machine does"),
];

const FUZZ: &[Package] = &[package("g++", "builds libFuzzer, which is written in C++")];

const HOSTS: &[Package] = &[
    package("ardour", "a host: scans, loads, plays and saves the VST3, without a display"),
    package("qtractor", "a host: scans, loads, plays and saves the CLAP"),
];

const JACK: &[Package] =
    &[package("jackd2", "the sound server that qtractor and the standalone program run on")];

const PACKAGE: &[Package] =
    &[package("dpkg-dev", "names the packages that a Debian package depends on")];

const PACKAGE_CHECK: &[Package] = &[package("debootstrap", "makes a bare system to install in")];

const WINDOWS: &[Package] = &[
    package("gcc-mingw-w64-x86-64", "links programs for Windows"),
    package("wine64", "runs them"),
    package("wine", "the name that it is called by"),
    package("nsis", "makes the installer"),
    package("unzip", "opens the archive to check it"),
];

/// All packages of these groups, each once.
pub fn wanted(groups: &[Group]) -> Vec<Package> {
    let mut all = Vec::new();
    for group in groups {
        let parts: &[&[Package]] = match group {
            Group::Demo => &[BUILD, SCREEN],
            Group::Test => &[BUILD, SCREEN, STANDALONE, TEST],
            Group::Standalone => &[BUILD, STANDALONE],
            Group::Bench => &[BUILD, BENCH],
            Group::Fuzz => &[BUILD, FUZZ],
            Group::Hosts => &[BUILD, SCREEN, HOSTS, JACK],
            Group::Package => &[BUILD, PACKAGE],
            Group::PackageCheck => &[BUILD, SCREEN, PACKAGE, PACKAGE_CHECK, JACK],
            Group::Windows => &[BUILD, SCREEN, WINDOWS],
        };
        for package in parts.iter().copied().flatten() {
            if all.iter().all(|known: &Package| known.name != package.name) {
                all.push(*package);
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_groups_name_no_package_twice() {
        let all = wanted(Group::value_variants());
        let mut names: Vec<_> = all.iter().map(|package| package.name).collect();
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), count);
    }
}

//! Rules for the documents: every command of this program and every package that is named exists, and no page
//! is too long. Links are lychee's.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use clap::Command;

use super::finding::Finding;

/// Most lines of a page, by the start of its path; the first that fits. Ours: what is read in one go.
const LONGEST: &[(&str, usize)] = &[("README.md", 130), ("DEVELOPERS.md", 160), ("docs/", 250)];

/// Documents that are made, or kept by another form.
const OTHERS: &[&str] = &["THIRD-PARTY.md"];

/// `commands`: those of this program.
pub fn check(files: &[PathBuf], commands: &Command) -> Result<Vec<Finding>> {
    let read = |path: &Path| {
        fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))
    };
    let mut packages = BTreeSet::new();
    for path in files.iter().filter(|path| path.ends_with("Cargo.toml")) {
        packages.extend(names(&read(path)?));
    }
    let mut findings = Vec::new();
    for path in files {
        let name = path.to_string_lossy().replace('\\', "/");
        if !name.ends_with(".md") || OTHERS.contains(&&*name) {
            continue;
        }
        let text = read(path)?;
        findings.extend(length(&name, &text));
        findings.extend(named(&name, &text, commands, &packages));
    }
    Ok(findings)
}

/// Names of the packages and programs in a manifest.
fn names(manifest: &str) -> impl Iterator<Item = String> + '_ {
    let name = |line: &str| line.strip_prefix("name = \"")?.strip_suffix('"').map(str::to_owned);
    manifest.lines().filter_map(move |line| name(line.trim()))
}

fn length(name: &str, text: &str) -> Option<Finding> {
    let (_, most) = LONGEST.iter().find(|(start, _)| name.starts_with(start))?;
    let lines = text.lines().count();
    (lines > *most).then(|| format!("{name}: {lines} lines: expected at most {most}"))
}

/// Commands of this program, their options, and packages that do not exist.
fn named(name: &str, text: &str, commands: &Command, packages: &BTreeSet<String>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let place = || format!("{name}:{}", number + 1);
        for after in line.split("cargo xtask ").skip(1) {
            let words = command_words(after);
            let Some((first, rest)) = words.split_first() else { continue };
            let Some(command) = commands.find_subcommand(first) else {
                findings.push(format!("{}: `cargo xtask {first}` does not exist", place()));
                continue;
            };
            for option in rest.iter().filter_map(|word| word.strip_prefix("--")) {
                let option = option.split('=').next().unwrap_or_default();
                let known = |arg: &clap::Arg| arg.get_long() == Some(option);
                if !command.get_arguments().any(known) {
                    findings.push(format!(
                        "{}: `cargo xtask {first} --{option}`: no such option",
                        place()
                    ));
                }
            }
        }
        if line.contains("cargo ") {
            let words = command_words(line);
            for pair in
                words.windows(2).filter(|pair| ["-p", "--package", "--bin"].contains(&pair[0]))
            {
                let known = packages.contains(pair[1]) || programs_by_folder(pair[1]);
                if !known {
                    findings.push(format!("{}: no package or program {}", place(), pair[1]));
                }
            }
        }
    }
    findings
}

/// Programs that cargo finds by their place in `src/bin`.
fn programs_by_folder(name: &str) -> bool {
    let places = ["tests/lab", "tests/demo", "tests/bench", "tests/fuzz", "plugin"];
    places.iter().any(|package| {
        let bin = Path::new(package).join("src/bin");
        bin.join(name).is_dir() || bin.join(name).with_extension("rs").is_file()
    })
}

/// The words of a command up to its end: a backtick, a comment, or what no command holds.
fn command_words(text: &str) -> Vec<&str> {
    let end = text.find(['#', ';', '|', ')']).unwrap_or(text.len());
    let mut words = Vec::new();
    for word in text[..end].split_whitespace() {
        let plain = word.trim_matches(['`', ',', '.', ':', '"', '\'']);
        if !plain.is_empty() {
            words.push(plain);
        }
        // The command ends with its code.
        if word.len() > 1
            && word.trim_end_matches([',', '.', ':']).ends_with('`')
            && !word.starts_with('`')
        {
            break;
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn a_command_that_does_not_exist_is_found() {
        let commands = crate::Arguments::command();
        let packages = BTreeSet::from(["brunt".to_owned()]);
        let judge = |text| named("a.md", text, &commands, &packages);
        for fine in [
            "`cargo xtask demo` and `cargo xtask setup --group standalone`, then",
            "cargo xtask bundle --release   # comment --planted",
            "cargo test -p brunt",
        ] {
            assert!(judge(fine).is_empty(), "{fine}: {:?}", judge(fine));
        }
        for planted in
            ["`cargo xtask planted`", "cargo xtask demo --planted", "cargo test -p planted"]
        {
            assert_eq!(judge(planted).len(), 1, "{planted}");
        }
    }

    #[test]
    fn a_page_that_is_too_long_is_found() {
        for (start, most) in LONGEST {
            let name = format!("{start}x.md");
            assert!(length(&name, &"\n".repeat(*most)).is_none());
            assert!(length(&name, &"\n".repeat(*most + 1)).is_some());
        }
        assert!(length("CHANGELOG.md", &"\n".repeat(1_000)).is_none());
    }
}

//! What the documents say of the program: commands and options that exist, and output that is real.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use brunt_demo::song::{self, SAMPLE_RATE_HZ, Version};

use crate::support::{brunt, check, directory, text, write_wav};

/// Every document of the project that speaks of the program, with its text.
fn documents() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut paths: Vec<PathBuf> =
        ["README.md", "DEVELOPERS.md", "CHANGELOG.md"].map(|name| root.join(name)).into();
    for folder in ["docs", "docs/lab"] {
        let entries = fs::read_dir(root.join(folder)).expect("a folder");
        paths.extend(entries.map(|entry| entry.expect("an entry").path()));
    }
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    paths.into_iter().map(|p| (p.clone(), fs::read_to_string(&p).expect("a document"))).collect()
}

/// The commands of `brunt` in a line, each with its options: `brunt check mix.wav --html r.html`.
fn commands(line: &str) -> Vec<(String, Vec<String>)> {
    let mut found = Vec::new();
    for (at, _) in line.match_indices("brunt ") {
        // A command starts a line or its code; elsewhere it is the name in a sentence.
        let before = line[..at].trim_start();
        if !(before.is_empty() || before.ends_with('`')) {
            continue;
        }
        let code = &line[at + "brunt ".len()..];
        let code = code.split(['`', '#', '|']).next().unwrap_or_default();
        let mut words = code.split_whitespace();
        let Some(name) = words.next().filter(|word| word.starts_with(|c: char| c.is_lowercase()))
        else {
            continue;
        };
        let options = words.filter(|word| word.starts_with("--"));
        let options = options.map(|word| word.split('=').next().unwrap_or(word).to_owned());
        found.push((name.to_owned(), options.collect()));
    }
    found
}

/// What `brunt NAME --help` prints; empty where there is no such command.
fn help(name: &str) -> String {
    let output = brunt().args([name, "--help"]).output().expect("brunt runs");
    if output.status.success() { text(&output.stdout) } else { String::new() }
}

#[test]
fn commands_and_options_in_documents_exist() {
    let mut helps: BTreeMap<String, String> = BTreeMap::new();
    let (mut seen, mut faults) = (0, Vec::new());
    for (path, document) in documents() {
        for (number, line) in document.lines().enumerate() {
            for (name, options) in commands(line) {
                seen += 1;
                let help = helps.entry(name.clone()).or_insert_with(|| help(&name));
                let place = format!("{}:{}", path.display(), number + 1);
                if help.is_empty() {
                    faults.push(format!("{place}: brunt {name}"));
                }
                let known =
                    |option: &String| help.split([' ', '\n', ',']).any(|word| word == option);
                for option in options.iter().filter(|option| !known(option)) {
                    faults.push(format!("{place}: brunt {name} {option}"));
                }
            }
        }
    }
    assert!(seen > 10, "{seen} commands: the documents name more");
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn a_command_is_told_from_the_name() {
    let found =
        commands("Run `brunt check mix.wav --html r.html`, then brunt reads `brunt --help`.");
    assert_eq!(found, [("check".to_owned(), vec!["--html".to_owned()])]);
    assert_eq!(commands("brunt takes a.wav --json=x   # brunt check").len(), 1);
}

/// Text without its numbers and line ends: those may move with the measurement.
fn words(text: &str) -> String {
    let mut words = String::new();
    for c in text.chars() {
        if c.is_ascii_digit() {
            if !words.ends_with('#') {
                words.push('#');
            }
        } else {
            words.push(c);
        }
    }
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Writes the output into the README anew.
const UPDATE: &str = "BRUNT_DOCUMENTS=write cargo test -p brunt-tests --test cli documents";

/// README's first file check, on the demo's file, prints what README says, but for its numbers.
#[test]
fn the_output_in_the_readme_is_real() {
    let d = directory();
    let mix = song::render(Version::Ceiling).mix;
    let folder = d.path().join("target/demo");
    fs::create_dir_all(&folder).expect("a folder");
    write_wav(&folder.join("ceiling.wav"), &[mix.left, mix.right], SAMPLE_RATE_HZ, 24);
    let mut command = brunt();
    let output = command.current_dir(d.path()).args(["check", "target/demo/ceiling.wav"]).output();
    let printed = text(&output.expect("brunt runs").stdout);
    let (path, readme) = documents().into_iter().next().expect("README");
    let (head, rest) = readme.split_once("```text\n").expect("a block");
    let (block, tail) = rest.split_once("```").expect("its end");
    if std::env::var_os("BRUNT_DOCUMENTS").is_some_and(|value| value == "write") {
        fs::write(path, format!("{head}```text\n{printed}```{tail}")).expect("written");
        return;
    }
    assert_eq!(words(block), words(&printed), "\n{printed}\nIf that is meant: {UPDATE}");
    // The check runs on any file, not on this one alone.
    assert_ne!(
        words(&printed),
        words(&text(&check(&crate::support::programme_wav(d.path(), 3.0), &[]).stdout))
    );
}

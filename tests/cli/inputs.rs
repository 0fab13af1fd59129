//! What is read is never written over, whatever it is given as; and no file is two things at once.

use std::fs;
use std::path::Path;
use std::process::Output;

use crate::support::{brunt, directory, path_text, text};

fn run(args: &[&str]) -> Output {
    brunt().args(args).output().expect("brunt runs")
}

#[track_caller]
fn refused(args: &[&str], words: &[&str]) {
    let output = run(args);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
    assert_eq!(said.lines().count(), 1, "{args:?}: {said}");
    for word in words {
        assert!(said.contains(word), "{args:?} names {word:?}: {said}");
    }
}

/// Files that are refused before they are read: what is in them does not matter. Their names end as those
/// of every output may.
fn files<const N: usize>(folder: &Path, names: [&str; N]) -> [String; N] {
    names.map(|name| {
        let path = folder.join(name);
        fs::write(&path, name).expect("written");
        path_text(&path).to_owned()
    })
}

/// Every input against every output, with and without `--force`.
#[test]
fn no_input_is_written_over_by_any_output() {
    let d = directory();
    let names = ["mix.csv", "before.csv", "reference.csv", "part.csv", "take.csv"];
    let [mix, before, reference, part, take] = files(d.path(), names);
    let (drums, out) = (format!("guitars={part}"), path_text(&d.path().join("out")).to_owned());
    let check = |option: &str, file: &str, written: &str, to: &str| {
        let args = ["check", &mix, "--part", &drums, option, file, "-q", written, to];
        args.map(ToOwned::to_owned).to_vec()
    };
    let mut cases: Vec<(Vec<String>, &str)> = Vec::new();
    for (option, file) in [("--before", &before), ("--reference", &reference)] {
        for written in ["--json", "--html", "--csv", "--edits"] {
            for to in [&mix, &part, file] {
                cases.push((check(option, file, written, to), to));
            }
        }
    }
    for to in [&mix, &before, &reference, &part, &take] {
        let args = ["listen", &mix, "--before", &before, "--reference", &reference];
        let more = ["--part", &drums, "--take-b", &take, "--out", &out, "-q", "--edits", to];
        cases.push((args.iter().chain(&more).map(|&arg| arg.to_owned()).collect(), to));
    }
    // A file in the folder that is written to, whatever it is given as.
    let folder = d.path().join("folder");
    fs::create_dir(&folder).expect("made");
    let [page] = files(&folder, ["index.html"]);
    let guitars = format!("guitars={page}");
    for more in [
        vec!["--before", &page],
        vec!["--reference", &page],
        vec!["--part", &guitars],
        vec!["--part", &drums, "--take-b", &page],
    ] {
        let args = [&["listen", &mix, "--out", path_text(&folder), "-q"], &more[..]].concat();
        cases.push((args.into_iter().map(ToOwned::to_owned).collect(), &page));
    }
    for command in ["takes", "history"] {
        for to in [&mix, &before, &take] {
            let args = [command, &mix, &before, &take, "--json", to];
            cases.push((args.map(ToOwned::to_owned).to_vec(), to));
        }
    }
    for (args, to) in &cases {
        let mut args: Vec<&str> = args.iter().map(String::as_str).collect();
        for _ in 0..2 {
            refused(&args, &[to, "would overwrite the input"]);
            args.push("--force");
        }
    }
    for name in names {
        assert_eq!(fs::read_to_string(d.path().join(name)).expect("there"), name);
    }
    assert_eq!(fs::read_to_string(&page).expect("there"), "index.html");
    assert_eq!(fs::read_dir(d.path()).expect("a folder").count(), names.len() + 1);
}

/// A file against itself reads as clear: it is refused, by whichever path it is given, and both options are
/// named. Two files for one role are two parts.
#[test]
fn one_file_for_two_things_is_refused() {
    let d = directory();
    let [mix, other, third] = files(d.path(), ["mix.wav", "other.wav", "third.wav"]);
    let link = path_text(&d.path().join("link.wav")).to_owned();
    fs::hard_link(&mix, &link).expect("a link");
    let part = |role: &str, file: &str| format!("--part={role}={file}");
    let (drums, bass, twice) = (part("drums", &other), part("bass", &other), part("drums", &mix));
    let linked = part("drums", &link);
    let out = path_text(&d.path().join("out")).to_owned();
    for (args, words) in [
        (vec!["--before", &mix], ["--before is the same file as the mix", "mix.wav: "]),
        (vec!["--before", &link], ["--before is the same file as the mix", "link.wav: "]),
        (vec!["--reference", &mix], ["--reference is the same file as the mix", "mix.wav: "]),
        (vec![&twice], ["--part drums is the same file as the mix", "mix.wav: "]),
        (vec![&linked], ["--part drums is the same file as the mix", "link.wav: "]),
        (vec![&drums, &bass], ["--part bass is the same file as --part drums", "other.wav: "]),
        (vec![&drums, &drums], ["--part drums is given this file twice", "other.wav: "]),
        (
            vec!["--reference", &other, &drums],
            ["--part drums is the same file as --reference", "other.wav: "],
        ),
    ] {
        refused(&[&["check", &mix, "--json", "-"], &args[..]].concat(), &words);
        refused(&[&["listen", &mix, "--out", &out], &args[..]].concat(), &words);
    }
    let guitars = part("guitars", &other);
    let take = ["listen", &mix, "--out", &out, &guitars, "--take-b", &other];
    refused(&take, &["--take-b is the same file as --part guitars"]);
    // Without a mix, too.
    refused(&["check", &drums, &bass], &["--part bass is the same file as --part drums"]);
    refused(&["check", &drums, &part("drums", &third)], &["no audio found"]);
    assert!(!Path::new(&out).exists());
}

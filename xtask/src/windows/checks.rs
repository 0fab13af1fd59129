//! What is tried with the built plug-ins and program under wine.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

use super::build::{self, EXCLUDED, TARGET};
use super::wine::{Wine, known, output};
use crate::bundle::{Build, Bundles};
use crate::report::{Row, Seen};
use crate::songs;
use crate::test::cargo_tests::{self, Counts};
use crate::workspace::{self, cargo};

/// Largest difference between a number on Linux and the same on Windows.
const NEAR: f64 = 1e-6;
/// A folder and a file whose names have blanks and letters beyond ASCII.
const STRANGE: &str = "Größe und Töne/Stück 1 – Mischung.wav";

/// Runs every check.
pub fn rows(wine: &Wine, bundles: &Bundles, validator: Option<&Path>, place: &Path) -> Vec<Row> {
    let look = place.join("pictures");
    vec![
        Row { what: "windows: validator (CLAP)", seen: validated(wine, bundles, validator) },
        Row { what: "windows: editor", seen: looked_at(wine, bundles, &look) },
        Row { what: "windows: our host's checks", seen: hosted(wine, bundles) },
        Row { what: "windows: the crates' own tests", seen: tested(wine) },
        Row { what: "windows: brunt check, JSON", seen: compared(wine, bundles, place) },
        Row { what: "windows: strange paths", seen: strange(wine, bundles, place) },
    ]
}

fn validated(wine: &Wine, bundles: &Bundles, validator: Option<&Path>) -> Result<Seen> {
    let Some(validator) = validator else {
        return Ok(Seen::NotHere("name it: --validator clap-validator.exe".to_owned()));
    };
    let mut command = wine.program(validator);
    command.args(["validate", "--json", "--in-process"]).arg(known(&bundles.clap));
    let text = command.output().context("the validator cannot start")?;
    let said = String::from_utf8_lossy(&text.stdout).into_owned();
    let start = said.find('{').with_context(|| {
        format!("{}: {}", text.status, String::from_utf8_lossy(&text.stderr).trim())
    })?;
    let json: Value = serde_json::from_str(&said[start..]).context("the validator's JSON")?;
    let mut states = Vec::new();
    collect(&json, "code", &mut states);
    let count = |state: &str| states.iter().filter(|found| *found == state).count();
    let (well, failed, warned) = (count("success"), count("failed"), count("warning"));
    let crashed = count("crashed");
    let seen = format!(
        "{well} pass, {failed} fail, {crashed} crash, {warned} warn, {} do not apply",
        count("skipped")
    );
    ensure!(well > 0 && failed + warned + crashed == 0, "{seen}");
    Ok(Seen::Well(seen))
}

/// Every text that stands under a name, wherever it is.
fn collect(json: &Value, name: &str, found: &mut Vec<String>) {
    match json {
        Value::Object(fields) => {
            for (key, value) in fields {
                match value.as_str() {
                    Some(text) if key == name => found.push(text.to_owned()),
                    _ => collect(value, name, found),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, name, found)),
        _ => {}
    }
}

/// The programs of these tests, built for Windows with those of the whole workspace.
fn programs(arguments: &[&str]) -> Result<Vec<(String, PathBuf)>> {
    let mut arguments = arguments.to_vec();
    arguments.extend(["--target", TARGET]);
    arguments.extend(EXCLUDED.iter().flat_map(|checks| ["--exclude", checks]));
    cargo_tests::programs(&arguments)
}

/// Runs test programs, and sums their results.
fn run(wine: &Wine, bundles: Option<&Bundles>, programs: &[(String, PathBuf)]) -> Result<Counts> {
    let mut counts = Counts::default();
    for (name, program) in programs {
        let mut command = wine.program(program);
        // One at a time: pictures are read off the one screen.
        command.args(["--test-threads", "1"]).env("NICE_LOG", "nul");
        if let Some(bundles) = bundles {
            command.env("BRUNT_BUNDLE", known(&bundles.clap));
            command.env("BRUNT_PROGRAM", known(&bundles.program));
        }
        let ran = command.output().with_context(|| format!("{name}: cannot start"))?;
        let text = String::from_utf8_lossy(&ran.stdout).into_owned();
        let found = cargo_tests::counts(&text);
        if !ran.status.success() || found.passed == 0 {
            let failed: Vec<_> = text
                .lines()
                .filter(|line| line.ends_with("FAILED") || line.contains("panicked"))
                .collect();
            println!("{text}{}", String::from_utf8_lossy(&ran.stderr));
            bail!("{name}: {}: {}", ran.status, failed.join("; "));
        }
        counts.add(found);
    }
    Ok(counts)
}

fn hosted(wine: &Wine, bundles: &Bundles) -> Result<Seen> {
    let programs = programs(&["--test", "hosts", "--test", "links"])?;
    let counts = run(wine, Some(bundles), &programs)?;
    Ok(Seen::Well(format!(
        "{} tests pass: ports, params, state, block sizes, bits, editor, linked instances",
        counts.passed
    )))
}

/// The tests that stand in the crates themselves, of what is shipped.
fn tested(wine: &Wine) -> Result<Seen> {
    let shipped = ["brunt", "brunt_engine", "brunt_report", "brunt_files", "brunt_cli"];
    let mut programs = programs(&["--lib"])?;
    programs.retain(|(name, _)| shipped.contains(&name.as_str()));
    ensure!(programs.len() == shipped.len(), "cargo built the tests of {programs:?}");
    let counts = run(wine, None, &programs)?;
    Ok(Seen::Well(format!("{} tests pass, {} left out", counts.passed, counts.ignored)))
}

/// Opens the editor, plays, closes, opens again, and leaves two pictures.
fn looked_at(wine: &Wine, bundles: &Bundles, folder: &Path) -> Result<Seen> {
    fs::create_dir_all(folder).with_context(|| format!("cannot create {}", folder.display()))?;
    // Built already for a development build.
    build::built(&Build { release: false, target: Some(TARGET) })?;
    let program = workspace::target_dir()?.join(TARGET).join("debug/look.exe");
    let mut command = wine.program(&program);
    command.arg(known(&bundles.clap)).arg(known(folder)).env("NICE_LOG", "nul");
    let said = output(&mut command, "look.exe")?;
    let said = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    Ok(Seen::Well(format!("{said}; {}", folder.display())))
}

/// The JSON of every mix of the demo, here and there.
fn compared(wine: &Wine, bundles: &Bundles, place: &Path) -> Result<Seen> {
    let songs = rendered(place)?;
    let mut build = cargo(["build"]);
    workspace::run(build.args(workspace::DEVELOPMENT), "cargo build")?;
    let here = workspace::target_dir()?.join("debug/brunt");
    let (mut largest, mut numbers) = (0.0f64, 0);
    let mut files = 0;
    for folder in &songs {
        let parts = songs::stems(folder)?;
        let mix = folder.join("mix.wav");
        let linux = json(Command::new(&here).stdin(Stdio::null()), &mix, &parts, &|path| {
            path.display().to_string()
        })?;
        let windows = json(&mut wine.program(&bundles.program), &mix, &parts, &known)?;
        compare(&linux, &windows, "", &mut largest, &mut numbers)
            .with_context(|| mix.display().to_string())?;
        files += 1 + parts.len();
    }
    Ok(Seen::Well(format!(
        "{numbers} numbers of {files} files equal, the largest difference {largest:.1e}"
    )))
}

/// The demo's songs as files, rendered once: a folder each, with `mix.wav` and the parts.
fn rendered(place: &Path) -> Result<Vec<PathBuf>> {
    let folder = place.join("songs");
    if !folder.is_dir() {
        let mut build = cargo(["build"]);
        workspace::run(build.args(workspace::DEVELOPMENT), "cargo build")?;
        songs::render(&folder, &[])?;
    }
    let mut found = Vec::new();
    for entry in fs::read_dir(&folder)? {
        found.push(entry?.path());
    }
    found.sort();
    ensure!(!found.is_empty(), "{}: no songs", folder.display());
    Ok(found)
}

fn json(
    command: &mut Command,
    mix: &Path,
    parts: &[(String, PathBuf)],
    shown: &dyn Fn(&Path) -> String,
) -> Result<Value> {
    command.args(["check", "--json", "-"]);
    for (role, file) in parts {
        command.args(["--part", &format!("{role}={}", shown(file))]);
    }
    let output = output(command.arg(shown(mix)), "brunt check")?;
    serde_json::from_slice(&output.stdout).context("brunt printed no JSON")
}

/// Walks both: numbers within [`NEAR`], all else the same but for the files' names.
fn compare(a: &Value, b: &Value, at: &str, largest: &mut f64, numbers: &mut u64) -> Result<()> {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            ensure!(a.len() == b.len(), "{at}: {} fields here, {} there", a.len(), b.len());
            for (key, value) in a {
                let other = b.get(key).with_context(|| format!("{at}/{key} is missing there"))?;
                // Paths are written as each system writes them.
                if key != "file" && key != "made" {
                    compare(value, other, &format!("{at}/{key}"), largest, numbers)?;
                }
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            ensure!(a.len() == b.len(), "{at}: {} items here, {} there", a.len(), b.len());
            for (index, pair) in a.iter().zip(b).enumerate() {
                compare(pair.0, pair.1, &format!("{at}/{index}"), largest, numbers)?;
            }
        }
        (Value::Number(a), Value::Number(b)) => {
            let difference =
                a.as_f64().zip(b.as_f64()).map_or(f64::INFINITY, |(a, b)| (a - b).abs());
            ensure!(difference <= NEAR, "{at}: {a} here, {b} there");
            *largest = largest.max(difference);
            *numbers += 1;
        }
        _ => ensure!(a == b, "{at}: {a} here, {b} there"),
    }
    Ok(())
}

/// Reads and writes where names have blanks and letters beyond ASCII.
fn strange(wine: &Wine, bundles: &Bundles, place: &Path) -> Result<Seen> {
    let mix = wine.drive().join(STRANGE);
    let folder = mix.parent().context("a file has a folder")?;
    fs::create_dir_all(folder).with_context(|| format!("cannot create {}", folder.display()))?;
    let song = rendered(place)?.remove(0).join("mix.wav");
    fs::copy(&song, &mix).with_context(|| format!("cannot copy {}", song.display()))?;
    let inside = |name: &str| format!("C:\\{}", Path::new(STRANGE).with_file_name(name).display());
    let mut command = wine.program(&bundles.program);
    command.args(["check", &inside("Stück 1 – Mischung.wav")]);
    command.args(["--json", &inside("Bericht Ä.json"), "--html", &inside("Bericht Ä.html")]);
    output(&mut command, "brunt check")?;
    let json = fs::read(folder.join("Bericht Ä.json")).context("no JSON was written")?;
    let json: Value = serde_json::from_slice(&json).context("brunt wrote no JSON")?;
    let file = json["mix"]["file"].as_str().unwrap_or_default();
    ensure!(file.ends_with("Stück 1 – Mischung.wav"), "/mix/file is {file:?}");
    ensure!(folder.join("Bericht Ä.html").is_file(), "no page was written");
    Ok(Seen::Well("read and written".to_owned()))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_number_that_is_off_a_missing_field_and_another_text_are_found() {
        let judge = |a: &Value, b: &Value| {
            let (mut largest, mut numbers) = (0.0, 0);
            compare(a, b, "", &mut largest, &mut numbers).map(|()| numbers)
        };
        let a = json!({"file": "/a", "x": [1.0, null, "t"], "n": 1});
        let b = json!({"file": "Z:\\a", "x": [1.0 + 9e-7, null, "t"], "n": 1});
        assert_eq!(judge(&a, &b).ok(), Some(2));
        for planted in [
            json!({"file": "/a", "x": [1.000_002, null, "t"], "n": 1}),
            json!({"file": "/a", "x": [1.0, 0.0, "t"], "n": 1}),
            json!({"file": "/a", "x": [1.0, null, "u"], "n": 1}),
            json!({"file": "/a", "x": [1.0, null, "t"], "m": 1}),
            json!({"file": "/a", "x": [1.0, null], "n": 1}),
        ] {
            assert!(judge(&a, &planted).is_err(), "{planted}");
        }
    }
}

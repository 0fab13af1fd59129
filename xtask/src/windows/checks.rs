//! What is tried with the built plug-ins and program under wine.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use goblin::pe::PE;
use serde_json::Value;

use super::build::{self, EXCLUDED, TARGET};
use super::growth;
use super::wine::{Wine, known, output};
use crate::bundle::{self, Build, Bundles};
use crate::report::{Row, Seen};
use crate::songs;
use crate::test::cargo_tests::{self, Counts, Program};
use crate::workspace::{self, cargo};

/// Largest difference between a number on Linux and the same on Windows.
const NEAR: f64 = 1e-6;
/// Programs that load each plug-in.
const SCANS: usize = 10;
/// Asked for: from loading the library to its descriptor, ms; of a build for real use.
const SCAN_MS: f64 = 20.0;
/// Length of a page, bytes. Wine maps sections that lie at whole pages of their file, and reads all others
/// into memory first.
const PAGE: u32 = 4096;
/// Libraries of Windows' that come with the plug-in's own. All others come when they are called
/// (`plugin/build.rs`): together they took wine 18 ms and more, of a bare library as well.
const SOON: [&str; 8] = [
    "advapi32.dll",
    "api-ms-win-core-synch-l1-2-0.dll",
    "bcryptprimitives.dll",
    "kernel32.dll",
    "msvcrt.dll",
    "ntdll.dll",
    "userenv.dll",
    "ws2_32.dll",
];
/// A folder and a file whose names have blanks and letters beyond ASCII.
const STRANGE: &str = "Größe und Töne/Stück 1 – Mischung.wav";

/// Runs every check.
pub fn rows(
    wine: &Wine,
    bundles: &Bundles,
    release: bool,
    validator: Option<&Path>,
    place: &Path,
) -> Result<Vec<Row>> {
    let look = place.join("pictures");
    let own = programs(&["--lib"])?;
    Ok(vec![
        Row { what: "windows: scan", seen: scanned(wine, bundles, release) },
        Row { what: "windows: 64 instances in turn", seen: growth::seen(wine, bundles) },
        Row { what: "windows: validator (CLAP)", seen: validated(wine, bundles, validator) },
        Row { what: "windows: editor", seen: looked_at(wine, bundles, &look) },
        Row { what: "windows: report", seen: reported(wine, &own) },
        Row { what: "windows: strange paths", seen: strange(wine, bundles, place) },
        Row { what: "windows: our host's checks", seen: hosted(wine, bundles) },
        Row { what: "windows: the crates' own tests", seen: tested(wine, bundles, &own) },
        Row { what: "windows: brunt check, JSON", seen: compared(wine, bundles, place) },
    ])
}

/// The time of a scan, and what it writes: nothing, beyond what starting any program writes.
fn scanned(wine: &Wine, bundles: &Bundles, release: bool) -> Result<Seen> {
    let scan = build::program("scan")?;
    wine.run("cmd", ["/c", "exit"])?;
    let before = written(wine)?;
    let vst3 = bundles.vst3.join("Contents/x86_64-win/Brunt.vst3");
    let mut times = Vec::new();
    for library in [&bundles.clap, &vst3] {
        loads_quickly(library)?;
        for _ in 0..SCANS {
            let said = output(wine.program(&scan).arg(known(library)), "scan.exe")
                .with_context(|| library.display().to_string())?;
            let said = String::from_utf8_lossy(&said.stdout).trim().to_owned();
            times.push(said.parse::<f64>().with_context(|| format!("scan.exe: {said:?}"))?);
        }
    }
    let new: Vec<_> = written(wine)?.difference(&before).cloned().collect();
    ensure!(new.is_empty(), "a scan writes {}", new.join("; "));
    times.sort_by(f64::total_cmp);
    let (median, most) = (times[times.len() / 2], times[times.len() - 1]);
    let build = if release { "release" } else { "development" };
    let seen = format!(
        "no file or key written; {median:.1} ms to the descriptor, at most {most:.1} ({} programs, \
         {build} build)",
        times.len()
    );
    ensure!(!release || median < SCAN_MS, "{seen}; expected under {SCAN_MS:.0} in the median");
    Ok(Seen::Well(seen))
}

/// Looks at what makes a library slow to load: where its sections lie in its file, and what comes with it.
fn loads_quickly(library: &Path) -> Result<()> {
    let in_file = || library.display().to_string();
    let bytes = fs::read(library).with_context(|| format!("cannot read {}", in_file()))?;
    let pe = PE::parse(&bytes).with_context(in_file)?;
    let header = pe.header.optional_header.context("a library has an optional header")?;
    let alignment = header.windows_fields.file_alignment;
    ensure!(alignment % PAGE == 0, "sections lie at {alignment} bytes: expected whole pages");
    let late: BTreeSet<_> = pe
        .imports
        .iter()
        .filter(|import| !SOON.contains(&&*import.dll.to_lowercase()))
        .map(|import| format!("{} for {}", import.dll, import.name))
        .collect();
    let late: Vec<_> = late.into_iter().collect();
    ensure!(
        late.is_empty(),
        "a scan loads {}: expected in LATE of plugin/build.rs",
        late.join(", ")
    );
    Ok(())
}

/// All that a program may have left in this Windows: files with their lengths and times, and keys.
fn written(wine: &Wine) -> Result<BTreeSet<String>> {
    wine.settle()?;
    let mut found: BTreeSet<String> = wine.registry()?.into_iter().collect();
    for path in wine.files()? {
        let about = fs::symlink_metadata(&path)?;
        let time = if about.is_file() { Some(about.modified()?) } else { None };
        found.insert(format!("{} {} {time:?}", path.display(), about.len()));
    }
    Ok(found)
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
fn programs(arguments: &[&str]) -> Result<Vec<Program>> {
    let mut arguments = arguments.to_vec();
    arguments.extend(["--target", TARGET]);
    arguments.extend(EXCLUDED.iter().flat_map(|checks| ["--exclude", checks]));
    cargo_tests::programs(&arguments)
}

/// Runs test programs, the plug-in under test being this one, and sums their results.
fn run<'a>(
    wine: &Wine,
    plug_in: &Path,
    programs: impl IntoIterator<Item = &'a Program>,
    filters: &[&str],
) -> Result<Counts> {
    let mut counts = Counts::default();
    for Program { name, path, .. } in programs {
        let mut command = wine.program(path);
        // One at a time: pictures are read off the one screen.
        command.args(["--test-threads", "1"]).args(filters);
        command.env("BRUNT_BUNDLE", known(plug_in));
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

/// Runs these tests of the host harness on a plug-in.
pub fn hosts(wine: &Wine, plug_in: &Path, filters: &[&str]) -> Result<u64> {
    let programs = programs(&["--test", "hosts"])?;
    Ok(run(wine, plug_in, &programs, filters)?.passed)
}

fn hosted(wine: &Wine, bundles: &Bundles) -> Result<Seen> {
    let programs = programs(&["--test", "hosts", "--test", "links"])?;
    let counts = run(wine, &bundles.clap, &programs, &[])?;
    Ok(Seen::Well(format!(
        "{} tests pass: ports, params, state, block sizes, bits, editor, linked instances",
        counts.passed
    )))
}

/// Crates that are shipped.
const SHIPPED: [&str; 5] = ["brunt", "brunt_engine", "brunt_report", "brunt_files", "brunt_cli"];

/// Tests under the model checker, which runs each thread on a stack of its own making: a panic finds no end
/// of that one under wine. What they check is the same on every system.
const MODEL: &str = "bridge::model::";

/// The tests that stand in the crates themselves, of what is shipped.
fn tested(wine: &Wine, bundles: &Bundles, programs: &[Program]) -> Result<Seen> {
    let shipped = || programs.iter().filter(|program| SHIPPED.contains(&program.name.as_str()));
    ensure!(shipped().count() == SHIPPED.len(), "cargo built the tests of {programs:?}");
    let counts = run(wine, &bundles.clap, shipped(), &["--skip", MODEL])?;
    Ok(Seen::Well(format!(
        "{} tests pass, {} left out, and those of the model checker",
        counts.passed, counts.ignored
    )))
}

/// A report that an instance writes by itself, where the user's documents are; the instance is removed
/// while it is being written.
fn reported(wine: &Wine, programs: &[Program]) -> Result<Seen> {
    let program = programs.iter().find(|program| program.name == "brunt");
    let program = program.context("cargo built no tests of the plug-in")?;
    let mut command = wine.program(&program.path);
    command.args(["--ignored", "--exact", "export::tests::is_removed_while_it_writes"]);
    output(&mut command, "the plug-in's own test")?;
    let file = wine.documents().join("Brunt reports/Brunt report 1.html");
    let page = fs::read_to_string(&file).with_context(|| format!("no {}", file.display()))?;
    ensure!(page.trim_end().ends_with("</html>"), "{} is not whole", file.display());
    let folder = file.parent().context("a file has a folder")?;
    let count = fs::read_dir(folder)?.count();
    ensure!(count == 1, "{count} files in {}", folder.display());
    Ok(Seen::Well("in Documents, whole, though its instance was removed meanwhile".to_owned()))
}

/// Opens the editor, plays, closes, opens again, and leaves two pictures; the same on this system.
fn looked_at(wine: &Wine, bundles: &Bundles, folder: &Path) -> Result<Seen> {
    let (there, here) = (folder.join("windows"), folder.join("linux"));
    for folder in [&there, &here] {
        fs::create_dir_all(folder)
            .with_context(|| format!("cannot create {}", folder.display()))?;
    }
    let mut command = wine.program(&build::program("look")?);
    let said = output(command.arg(known(&bundles.clap)).arg(known(&there)), "look.exe")?;
    let said = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    development()?;
    let own = bundle::built(&Build::here(false))?;
    let mut command = wine.command(workspace::target_dir()?.join("debug/look"));
    output(command.arg(own.clap).arg(&here), "look")?;
    let same = ["first.png", "again.png"].iter().all(|name| {
        let read = |folder: &Path| fs::read(folder.join(name)).unwrap_or_default();
        !read(&here).is_empty() && read(&here) == read(&there)
    });
    let compared =
        if same { "as on this system, pixel for pixel" } else { "not as on this system" };
    Ok(Seen::Well(format!("{said}; {compared}: {}", folder.display())))
}

/// Builds this system's own programs that are compared with.
fn development() -> Result<()> {
    workspace::run(cargo(["build"]).args(workspace::DEVELOPMENT), "cargo build")
}

/// The JSON of every mix of the demo, here and there.
fn compared(wine: &Wine, bundles: &Bundles, place: &Path) -> Result<Seen> {
    let songs = rendered(place)?;
    development()?;
    let (mut largest, mut numbers) = (0.0f64, 0);
    let mut files = 0;
    for folder in &songs {
        let parts = songs::stems(folder)?;
        let mix = folder.join("mix.wav");
        let linux = songs::check(&mix, &parts)?;
        let windows = songs::check_by(&mut wine.program(&bundles.program), &mix, &parts, &known)?;
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
        development()?;
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

/// Walks both: numbers within [`NEAR`], all else the same but for how paths are written.
fn compare(a: &Value, b: &Value, at: &str, largest: &mut f64, numbers: &mut u64) -> Result<()> {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            ensure!(a.len() == b.len(), "{at}: {} fields here, {} there", a.len(), b.len());
            for (key, value) in a {
                let other = b.get(key).with_context(|| format!("{at}/{key} is missing there"))?;
                if key != "made" {
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
        // Paths are written as each system writes them.
        (Value::String(a), Value::String(b)) => {
            ensure!(a == b || known(Path::new(a)) == *b, "{at}: {a:?} here, {b:?} there");
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

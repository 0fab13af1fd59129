//! Files that the program writes: never over another without leave, whole or not at all.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

use crate::support::{brunt, check, directory, path_text, programme_wav, text};

#[track_caller]
fn refused(output: &Output, words: &[&str]) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert_eq!(said.lines().count(), 1, "one line: {said}");
    assert!(output.stdout.is_empty(), "{}", text(&output.stdout));
    for word in words {
        assert!(said.contains(word), "names {word:?}: {said}");
    }
}

fn files(folder: &Path) -> usize {
    fs::read_dir(folder).expect("a directory").count()
}

#[test]
fn a_file_that_is_there_is_kept() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    for option in ["--json", "--html", "--csv"] {
        let out = d.path().join("kept");
        fs::write(&out, "mine").expect("written");
        refused(
            &check(&file, &[option, path_text(&out)]),
            &[path_text(&out), "already exists", "--force"],
        );
        assert_eq!(fs::read_to_string(&out).expect("read"), "mine");
        let forced = check(&file, &[option, path_text(&out), "--force"]);
        assert_eq!(forced.status.code(), Some(0), "{}", text(&forced.stderr));
        assert_ne!(fs::read_to_string(&out).expect("read"), "mine");
        fs::remove_file(&out).expect("removed");
    }
    assert_eq!(files(d.path()), 1, "no temporary file is left");
}

/// On a terminal the program asks. `script` (Debian package bsdutils) makes one.
#[test]
fn on_a_terminal_it_asks() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    let out = d.path().join("r.json");
    let program = brunt();
    let program = path_text(Path::new(program.get_program())).to_owned();
    for (answer, replaced) in [("n\n", false), ("\n", false), ("y\n", true)] {
        fs::write(&out, "mine").expect("written");
        let line = format!("{program} check {} -q --json {}", path_text(&file), path_text(&out));
        let mut child = Command::new("script")
            .args(["-qec", &line, "/dev/null"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("`script` runs");
        std::io::Write::write_all(&mut child.stdin.take().expect("piped"), answer.as_bytes())
            .expect("answered");
        let output = child.wait_with_output().expect("it ends");
        assert!(text(&output.stdout).contains("Replace it? [y/N]"), "{}", text(&output.stdout));
        assert_eq!(output.status.code(), Some(if replaced { 0 } else { 2 }), "{answer:?}");
        assert_eq!(fs::read_to_string(&out).expect("read") != "mine", replaced, "{answer:?}");
    }
}

#[test]
fn one_file_for_two_outputs_is_refused() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    let out = d.path().join("both");
    refused(
        &check(&file, &["--json", path_text(&out), "--html", path_text(&out)]),
        &[path_text(&out), "two outputs"],
    );
    refused(&check(&file, &["--json", "-", "--csv", "-"]), &["-: ", "two outputs"]);
    assert_eq!(files(d.path()), 1);
}

#[test]
fn all_three_at_once_and_two_reports_side_by_side() {
    let d = directory();
    let file = programme_wav(d.path(), 2.0);
    for name in ["one", "two"] {
        let out = |ending: &str| d.path().join(format!("{name}.{ending}"));
        let (json, html, csv) = (out("json"), out("html"), out("csv"));
        let args =
            ["--json", path_text(&json), "--html", path_text(&html), "--csv", path_text(&csv)];
        let output = check(&file, &args);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        assert!(!output.stdout.is_empty(), "the page on the terminal stays");
    }
    assert_eq!(files(d.path()), 7);
    let read = |name: &str| fs::read(d.path().join(name)).expect("read");
    assert_eq!(read("one.html"), read("two.html"), "the same mix gives the same report");
}

/// RFC 4180 by the `csv` crate's reader, numbers against the JSON.
#[test]
fn the_csv_holds_the_hits_of_the_json() {
    let d = directory();
    let file = programme_wav(d.path(), 12.0);
    let csv = text(&check(&file, &["--csv", "-"]).stdout);
    let json: Value = serde_json::from_slice(&check(&file, &["--json", "-"]).stdout).expect("JSON");
    let hits = json["hits"].as_array().expect("hits");
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let names: Vec<String> =
        reader.headers().expect("names").iter().map(ToOwned::to_owned).collect();
    assert_eq!(names[..4], ["time_s", "true_peak_dbtp", "contrast_db", "lost_db"]);
    let rows: Vec<_> = reader.records().map(|row| row.expect("a row")).collect();
    assert!(!rows.is_empty());
    assert_eq!(rows.len(), hits.len());
    for (row, hit) in rows.iter().zip(hits) {
        for (name, field) in names.iter().zip(row) {
            let got = match field {
                "" => Value::Null,
                "true" | "false" => Value::Bool(field == "true"),
                number => number.parse::<f64>().expect("a number").into(),
            };
            assert_eq!(got, hit[name], "{name}");
        }
    }
}

/// A full disk: `/dev/full` refuses every byte (full(4)).
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    for option in ["--json", "--html", "--csv"] {
        refused(
            &check(&file, &["-q", option, "/dev/full"]),
            &["/dev/full", "no space left", "cannot be written"],
        );
    }
}

/// A file that grows past a limit, as on a full disk: `ulimit -f` counts blocks of 512 bytes.
/// The report is longer than that, and nothing of it is left.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fills_up_leaves_nothing_behind() {
    let d = directory();
    let file = programme_wav(d.path(), 2.0);
    let out = d.path().join("r.html");
    let program = brunt();
    let output = Command::new("sh")
        .args(["-c", "ulimit -f 8; trap '' XFSZ; exec \"$@\"", "sh"])
        .arg(program.get_program())
        .args(["check", path_text(&file), "-q", "--html", path_text(&out)])
        .output()
        .expect("sh runs");
    refused(&output, &[path_text(&out), "cannot be written", "too large"]);
    assert_eq!(files(d.path()), 1, "the mix alone");
}

/// A program that is stopped while it writes, as by a power cut: going past the limit ends it. What
/// was there is there, whole.
#[cfg(target_os = "linux")]
#[test]
fn a_sudden_end_loses_nothing_that_was_there() {
    let d = directory();
    let file = programme_wav(d.path(), 2.0);
    let out = d.path().join("r.html");
    fs::write(&out, "mine").expect("written");
    let program = brunt();
    let output = Command::new("sh")
        .args(["-c", "ulimit -f 8; exec \"$@\"", "sh"])
        .arg(program.get_program())
        .args(["check", path_text(&file), "-q", "--force", "--html", path_text(&out)])
        .output()
        .expect("sh runs");
    assert_eq!(output.status.code(), None, "ended by a signal");
    assert_eq!(fs::read_to_string(&out).expect("read"), "mine");
}

/// A folder that may not be written to. Root may write everywhere: there the system's own
/// read-only folder stands in.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    refused(
        &check(&file, &["-q", "--html", "/proc/report.html"]),
        &["/proc/report.html", "cannot be written"],
    );
}

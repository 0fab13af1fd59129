//! `brunt listen`: one loudness by ffmpeg, the same samples in every form, what is predicted against
//! what the written files give, and nothing half-written.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use brunt_files::whole::Whole;
use serde_json::Value;
use tempfile::TempDir;

use crate::support::{RATE, brunt, directory, ffmpeg, path_text, programme_wav, text, write_wav};

/// Length of the song, s.
const SONG_S: f64 = 30.0;

/// A song in a folder: its files by name.
pub struct Song {
    folder: TempDir,
}

impl Song {
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

/// Notes of `hz` that decay, with a click each: one every half second, `late_ms(n)` late.
fn notes(hz: f64, level: f64, late_ms: impl Fn(usize) -> f64) -> Vec<f32> {
    let rate = f64::from(RATE);
    let mut plane = vec![0.0f32; (SONG_S * rate) as usize];
    let mut state = 1u32;
    for n in 0..(SONG_S / 0.5) as usize - 1 {
        let start = ((0.5 + 0.5 * n as f64 + late_ms(n) * 1e-3) * rate).round() as usize;
        for k in 0..((0.4 * rate) as usize).min(plane.len() - start) {
            let t = k as f64 / rate;
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1u32 << 23) - 1.0;
            let tone = (std::f64::consts::TAU * hz * t).sin() * (-t / 0.09).exp();
            plane[start + k] += (level * (tone + 0.5 * noise * (-t / 0.008).exp())) as f32;
        }
    }
    plane
}

/// Drums, a bass that strays by up to 30 ms, a layer that holds; their sum, and that sum clipped 8 dB
/// into its peaks.
pub fn song() -> &'static Song {
    static SONG: OnceLock<Song> = OnceLock::new();
    SONG.get_or_init(|| {
        let song = Song { folder: directory() };
        let layer = (0..(SONG_S * f64::from(RATE)) as usize).map(|n| {
            let t = n as f64 / f64::from(RATE);
            (0.05 * (std::f64::consts::TAU * 330.0 * t).sin()) as f32
        });
        let stray = |n: usize| [0.0, 28.0, -22.0, 30.0, 14.0, -30.0, 25.0][n % 7];
        let planes =
            [notes(60.0, 0.4, |_| 0.0), notes(110.0, 0.3, stray), layer.collect::<Vec<f32>>()];
        for (name, plane) in ["drums.wav", "bass.wav", "layer.wav"].iter().zip(&planes) {
            write_wav(&song.path(name), std::slice::from_ref(plane), RATE, 32);
        }
        let sum: Vec<f32> =
            (0..planes[0].len()).map(|n| planes.iter().map(|plane| plane[n]).sum()).collect();
        let peak = sum.iter().fold(0.0f32, |most, x| most.max(x.abs()));
        let limit = peak * 10f32.powf(-8.0 / 20.0);
        let clipped: Vec<f32> = sum.iter().map(|x| x.clamp(-limit, limit)).collect();
        write_wav(&song.path("before.wav"), &[sum], RATE, 32);
        write_wav(&song.path("mix.wav"), &[clipped], RATE, 32);
        song
    })
}

/// Runs `brunt listen` on the song's mix with all that belongs to it.
pub fn listen(out: &Path, more: &[&str]) -> Output {
    let song = song();
    let mut command = brunt();
    command.arg("listen").arg(song.path("mix.wav")).arg("--before").arg(song.path("before.wav"));
    for (role, name) in [("drums", "drums.wav"), ("bass", "bass.wav"), ("other", "layer.wav")] {
        command.arg(format!("--part={role}={}", path_text(&song.path(name))));
    }
    command.arg("--out").arg(out).args(more).output().expect("brunt runs")
}

/// A folder that was written once, for all that only read.
pub fn written() -> &'static (TempDir, Value) {
    static WRITTEN: OnceLock<(TempDir, Value)> = OnceLock::new();
    WRITTEN.get_or_init(|| {
        let d = directory();
        let output = listen(&d.path().join("out"), &["--quiet"]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let json = fs::read_to_string(d.path().join("out/listen.json")).expect("the JSON");
        (d, serde_json::from_str(&json).expect("JSON"))
    })
}

fn versions(json: &Value) -> &Vec<Value> {
    json["versions"].as_array().expect("versions")
}

/// What ffmpeg's `ebur128` filter reads of a file: integrated loudness and true peak.
fn by_ffmpeg(file: &Path) -> (f64, f64) {
    let said = ffmpeg(&["-i", path_text(file), "-af", "ebur128=peak=true", "-f", "null", "-"]);
    let last = |name: &str| -> f64 {
        let line = said.lines().rfind(|line| line.trim_start().starts_with(name)).expect(name);
        line.split_whitespace().nth(1).and_then(|word| word.parse().ok()).expect("a number")
    };
    (last("I:"), last("Peak:"))
}

#[test]
fn all_files_have_one_loudness_and_keep_under_the_peak_by_ffmpeg() {
    let (folder, json) = written();
    let want = json["loudness_lufs"].as_f64().expect("a loudness");
    let ids: Vec<&str> = versions(json).iter().map(|v| v["id"].as_str().expect("an id")).collect();
    for id in ["mix", "before", "timing", "clutter"] {
        assert!(ids.contains(&id), "{ids:?}");
    }
    for version in versions(json) {
        let file = folder.path().join("out").join(version["file"].as_str().expect("a name"));
        let (loudness, peak) = by_ffmpeg(&file);
        // ffmpeg shows one decimal.
        assert!((loudness - want).abs() < 0.1 + 0.05, "{version}: {loudness}");
        assert!(peak <= -1.0, "{version}: {peak}");
        let own = version["loudness_lufs"].as_f64().expect("measured");
        assert!((own - want).abs() < 0.05, "{version}");
    }
}

/// The bar: half of the versions within 0.5 dB. What is measured again is what another run of the meter
/// reads on the same file.
#[test]
fn what_is_predicted_is_what_the_files_give() {
    let (folder, json) = written();
    let mut apart: Vec<f64> = versions(json)
        .iter()
        .filter_map(|v| Some((v["predicted_db"].as_f64()? - v["remeasured_db"].as_f64()?).abs()))
        .collect();
    apart.sort_by(f64::total_cmp);
    assert!(apart.len() >= 3, "{apart:?}");
    assert!(apart[apart.len() / 2] <= 0.5, "{apart:?}");
    // Taking the clipper out gives back what it took from the same hits, by the meter of `check`.
    let check = |name: &str| {
        let file = folder.path().join("out").join(name);
        let output = brunt().args(["check", path_text(&file), "--json", "-"]).output();
        let json: Value = serde_json::from_slice(&output.expect("runs").stdout).expect("JSON");
        json["punch"]["contrast_db"].as_f64().expect("a contrast")
    };
    let row = |id: &str| versions(json).iter().find(|v| v["id"] == id).expect("a version");
    let before = row("before");
    let gain = check(before["file"].as_str().expect("a name"))
        - check(row("mix")["file"].as_str().expect("a name"));
    let said = before["remeasured_db"].as_f64().expect("measured");
    assert!((gain - said).abs() < 0.5, "{gain} by check, {said} by listen");
    assert!(said > 0.2, "a clipper 8 dB into the peaks: {said}");
}

/// The passage is 8 to 20 s long, all files are as long, and their ends are silent.
#[test]
fn files_are_the_passage_and_do_not_click() {
    let (folder, json) = written();
    let passage = &json["passage"];
    let length = passage["to_s"].as_f64().expect("s") - passage["from_s"].as_f64().expect("s");
    assert!((8.0..=20.0).contains(&length), "{passage}");
    assert_eq!(passage["chosen_by"], "brunt");
    for version in versions(json) {
        let file = folder.path().join("out").join(version["file"].as_str().expect("a name"));
        let whole = Whole::read(&file).expect("a file");
        let plane = &whole.planes[0];
        assert!((plane.len() as f64 - length * f64::from(RATE)).abs() <= 1.0, "{version}");
        for end in [plane[0], plane[plane.len() - 1]] {
            assert!(end.abs() < 1e-4, "{version}: {end}");
        }
    }
}

/// FLAC and 24-bit WAV hold the same samples, float WAV the same to a step of 24 bits.
#[test]
fn every_form_holds_the_same() {
    let (folder, json) = written();
    let d = directory();
    let asked = |n: &str| json["passage"][n].as_f64().expect("s").to_string();
    let (from, to) = (asked("from_s"), asked("to_s"));
    for format in ["flac", "wav-float"] {
        let out = d.path().join(format);
        let args = ["--quiet", "--format", format, "--from", &from, "--to", &to];
        let output = listen(&out, &args);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        for version in versions(json) {
            let name = version["file"].as_str().expect("a name");
            let other = name.replace(".wav", if format == "flac" { ".flac" } else { ".wav" });
            let ours = Whole::read(&folder.path().join("out").join(name)).expect("a file");
            let theirs = Whole::read(&out.join(other)).expect("a file");
            assert_eq!(ours.planes[0].len(), theirs.planes[0].len());
            let apart = ours.planes[0].iter().zip(&theirs.planes[0]);
            let apart = apart.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            let step = 1.0 / 8_388_608.0;
            assert!(apart <= if format == "flac" { 0.0 } else { step }, "{format} {name}: {apart}");
        }
    }
}

#[track_caller]
fn refused(output: &Output, words: &[&str]) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert_eq!(said.lines().count(), 1, "one line: {said}");
    for word in words {
        assert!(said.contains(word), "names {word:?}: {said}");
    }
}

fn run(mix: &Path, out: &Path, more: &[&str]) -> Output {
    let mut command = brunt();
    command.arg("listen").arg(mix).arg("--out").arg(out).args(more).output().expect("brunt runs")
}

fn names(folder: &Path) -> Vec<String> {
    let entry = |entry: std::io::Result<fs::DirEntry>| {
        entry.expect("an entry").file_name().to_string_lossy().into_owned()
    };
    let mut names: Vec<String> = fs::read_dir(folder).expect("a folder").map(entry).collect();
    names.sort();
    names
}

#[test]
fn what_is_there_stays_unless_it_may_go() {
    let d = directory();
    let mix = programme_wav(d.path(), 9.0);
    let out = d.path().join("out");
    assert_eq!(run(&mix, &out, &["--quiet"]).status.code(), Some(0));
    let first = names(&out);
    assert!(first.contains(&"1-mix.wav".to_owned()) && first.contains(&"index.html".to_owned()));
    fs::write(out.join("1-mix.wav"), "mine").expect("written");
    refused(&run(&mix, &out, &[]), &["listen.json", "already exists", "--force"]);
    assert_eq!(fs::read_to_string(out.join("1-mix.wav")).expect("read"), "mine");
    // A version that this session has not goes with the session that had it.
    let json = fs::read_to_string(out.join("listen.json")).expect("read");
    fs::write(out.join("listen.json"), json.replace("1-mix.wav", "7-old.wav")).expect("written");
    for other in ["7-old.wav", "notes.txt"] {
        fs::write(out.join(other), "old").expect("written");
    }
    let forced = run(&mix, &out, &["--quiet", "--force"]);
    assert_eq!(forced.status.code(), Some(0), "{}", text(&forced.stderr));
    assert!(fs::metadata(out.join("1-mix.wav")).expect("there").len() > 1_000);
    assert!(!out.join("7-old.wav").exists() && out.join("notes.txt").exists());
    // What this session reads stays, by whichever path it is given.
    let json = fs::read_to_string(out.join("listen.json")).expect("read");
    fs::write(out.join("listen.json"), json.replace("1-mix.wav", "7-old.wav")).expect("written");
    fs::copy(&mix, out.join("7-old.wav")).expect("copied");
    let other_way = out.join("../out/7-old.wav");
    let read = run(&mix, &out, &["--quiet", "--force", "--reference", path_text(&other_way)]);
    assert_eq!(read.status.code(), Some(0), "{}", text(&read.stderr));
    assert!(out.join("7-old.wav").exists());
    // The mix itself is never written over, whatever is allowed.
    let own = out.join("1-mix.wav");
    let before = fs::read(&own).expect("read");
    refused(&run(&own, &out, &["--force"]), &["1-mix.wav", "would overwrite the input"]);
    assert_eq!(fs::read(&own).expect("read"), before);
}

/// A file that grows past a limit, as on a full disk: `ulimit -f` counts blocks of 512 bytes.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_nothing() {
    let d = directory();
    let mix = programme_wav(d.path(), 9.0);
    let out = d.path().join("out");
    let full = || {
        Command::new("sh")
            .args(["-c", "ulimit -f 1000; trap '' XFSZ; exec \"$@\"", "sh"])
            .arg(brunt().get_program())
            .arg("listen")
            .args([&mix, Path::new("--out"), &out])
            .output()
            .expect("sh runs")
    };
    refused(&full(), &["cannot be written"]);
    assert!(!out.exists(), "a folder that was made for it goes again");
    fs::create_dir(&out).expect("made");
    fs::write(out.join("mine.txt"), "mine").expect("written");
    refused(&full(), &["cannot be written"]);
    assert_eq!(names(&out), ["mine.txt"]);
}

#[test]
fn bad_folders_and_passages_are_named() {
    let d = directory();
    let mix = programme_wav(d.path(), 9.0);
    let none = d.path().join("no/such");
    refused(&run(&mix, &none, &[]), &[path_text(&none), "no such directory"]);
    refused(&run(&mix, &mix, &[]), &["programme.wav", "cannot be written", "not a folder"]);
    let out = d.path().join("out");
    for (args, words) in [
        (&["--from", "3", "--to", "5"][..], &["2.000 s to listen to", "8 to 20 s"][..]),
        (&["--from", "5", "--to", "1"], &["--from 5 s is not before --to 1 s"]),
        (&["--from", "-1"], &["--from -1 s"]),
        (&["--to", "90"], &["--to 90 s is beyond its end at 9.000 s"]),
        (&["--format", "mp3"], &["mp3"]),
        (&["--part", "horn=a.wav"], &["horn"]),
    ] {
        let output = run(&mix, &out, args);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(words.iter().all(|word| said.contains(word)), "{args:?}: {said}");
        assert!(!out.exists(), "{args:?}");
    }
    let missing = d.path().join("missing.wav");
    refused(&run(&missing, &out, &[]), &["missing.wav", "no such file"]);
    assert!(!out.exists());
}

/// The notes to move go along where they are asked for, as from `check`.
#[test]
fn edits_are_those_of_check() {
    let d = directory();
    let song = song();
    let [by_listen, by_check] = ["listen.csv", "check.csv"].map(|name| d.path().join(name));
    let output = listen(&d.path().join("out"), &["--quiet", "--edits", path_text(&by_listen)]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let mut check = brunt();
    check.arg("check").arg(song.path("mix.wav"));
    for (role, name) in [("drums", "drums.wav"), ("bass", "bass.wav"), ("other", "layer.wav")] {
        check.arg(format!("--part={role}={}", path_text(&song.path(name))));
    }
    let output = check.args(["--quiet", "--edits", path_text(&by_check)]).output().expect("runs");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let read = |path: &Path| fs::read_to_string(path).expect("a list");
    assert!(read(&by_check).lines().count() > 10);
    assert_eq!(read(&by_listen), read(&by_check));
}

/// A mix before the limiter that ends ahead of the passage gives no version of it, and that is said; one
/// that lacks the last moment does.
#[test]
fn a_before_that_does_not_cover_the_passage_is_said_to() {
    let d = directory();
    let song = song();
    let before = Whole::read(&song.path("before.wav")).expect("a file");
    for (length_s, covered) in [(12.0, false), (22.0, false), (29.8, true)] {
        let short = d.path().join(format!("before {length_s}.wav"));
        let plane = before.planes[0][..(length_s * f64::from(RATE)) as usize].to_vec();
        write_wav(&short, &[plane], RATE, 32);
        let out = d.path().join(format!("out {length_s}"));
        let args = ["--from", "18", "--to", "30", "--before", path_text(&short)];
        let output = run(&song.path("mix.wav"), &out, &args);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let json = fs::read_to_string(out.join("listen.json")).expect("the JSON");
        let json: Value = serde_json::from_str(&json).expect("JSON");
        assert_eq!(versions(&json).iter().any(|v| v["id"] == "before"), covered, "{length_s} s");
        let left = json["left_out"].as_array().expect("causes");
        let why = left.iter().find(|left| left["leak"] == "ceiling").map(|left| &left["why"]);
        let want = "The file given as --before does not cover this passage.";
        assert_eq!(why.is_some_and(|why| why == want), !covered, "{length_s} s: {left:?}");
        let said = text(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(said.contains(want), !covered, "{said}");
    }
}

/// What is printed fits 80 columns and names the page.
#[test]
fn the_terminal_shows_predicted_and_measured() {
    let d = directory();
    let output = listen(&d.path().join("out"), &[]);
    let said = text(&output.stdout);
    for line in said.lines().filter(|line| !line.starts_with("Written: ")) {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for word in ["predicted", "measured", "As it is", "Before the limiter", "index.html", "LUFS"] {
        assert!(said.contains(word), "{word}: {said}");
    }
}

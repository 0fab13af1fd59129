//! `brunt history`: revisions are brought onto one passage, set side by side, and told apart.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde_json::Value;

use crate::support::{RATE, brunt, directory, text, write_wav};

/// A song of its own for each seed: kicks and bursts of noise on drawn eighths at 120 beats a
/// minute, over a bed of noise.
fn song(seed: u64, seconds: f64) -> Vec<f64> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut out: Vec<f64> = (0..(seconds * f64::from(RATE)) as usize)
        .map(|_| random.random_range(-0.01..0.01))
        .collect();
    for eighth in 0..(seconds * 4.0) as usize {
        if random.random_bool(0.45) {
            continue;
        }
        let (level, low) = (random.random_range(0.15..0.6), random.random_bool(0.5));
        let at = (eighth as f64 * 0.25 * f64::from(RATE)) as usize;
        for (n, x) in out[at..].iter_mut().take(RATE as usize / 3).enumerate() {
            let t = n as f64 / f64::from(RATE);
            let body = if low { (TAU * 60.0 * t).sin() } else { random.random_range(-1.0..1.0) };
            *x += level * body * (-t / 0.06).exp();
        }
    }
    out
}

fn write(directory: &Path, name: &str, samples: &[f64], gain: f64, ceiling: f64) -> PathBuf {
    let path = directory.join(name);
    let plane: Vec<f32> =
        samples.iter().map(|x| (gain * x).clamp(-ceiling, ceiling) as f32).collect();
    write_wav(&path, &[plane.clone(), plane], RATE, 24);
    path
}

fn run(files: &[&PathBuf], args: &[&str]) -> std::process::Output {
    brunt().arg("history").args(files).args(args).output().expect("brunt runs")
}

/// A second revision that starts 1.5 s into the song and goes into a clipper, and a third that has
/// 0.7 s of silence ahead: the truth is in how they were made.
#[test]
fn revisions_are_aligned_and_what_changed_is_told() {
    let d = directory();
    let whole = song(5, 24.0);
    let a = write(d.path(), "mix 1.wav", &whole, 1.0, 0.9);
    let b = write(d.path(), "mix 2.wav", &whole[(1.5 * 48_000.0) as usize..], 4.0, 0.9);
    let mut later = vec![0.0; (0.7 * 48_000.0) as usize];
    later.extend(&whole);
    let c = write(d.path(), "mix 3.wav", &later, 4.0, 0.9);
    let output = run(&[&a, &b, &c], &["--json", "-"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["schema"], "brunt-history/1");
    for (n, want) in [0.0, 1.5, -0.7].into_iter().enumerate() {
        let revision = &json["revisions"][n];
        assert_eq!(revision["aligned"], true, "{revision}");
        let offset = revision["offset_s"].as_f64().expect("a number");
        assert!((offset - want).abs() < 0.005, "{n}: {offset} s, expected {want} s");
        assert_eq!(revision["report"]["schema"], "brunt-check/1");
    }
    let passage = json["passage_s"].as_f64().expect("a number");
    assert!((passage - 22.5).abs() < 0.01, "{passage}");
    // B and C are the same samples over the passage: every reading agrees.
    let reading = |n: usize, name: &str| {
        json["revisions"][n]["report"].pointer(name).and_then(Value::as_f64).expect("a number")
    };
    for name in ["/loudness/integrated_lufs", "/punch/contrast_db"] {
        let apart = (reading(1, name) - reading(2, name)).abs();
        assert!(apart < 0.1, "{name}: {apart} apart");
    }
    let says = |n: usize| json["changes"][n]["says"].to_string();
    assert!(says(0).contains("LU louder"), "{}", says(0));
    // A's peaks let no player bring it up to -14 LUFS, and B is already over it: B's hits are higher.
    assert!(says(0).contains("louder than before"), "{}", says(0));
    assert!(says(1).contains("No change that matters"), "{}", says(1));
}

#[test]
fn the_table_fits_80_columns_and_names_every_revision() {
    let d = directory();
    let whole = song(6, 12.0);
    let names = [
        "one.wav",
        "a rather long name of a mix that goes on and on, take 12, vocals up, \
                  master 3.wav",
        "three.wav",
        "four.wav",
        "five.wav",
    ];
    let files: Vec<PathBuf> =
        names.iter().map(|name| write(d.path(), name, &whole, 1.0, 0.9)).collect();
    let output = run(&files.iter().collect::<Vec<_>>(), &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let page = text(&output.stdout);
    for line in page.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for word in ["A ", "E ", "Loudness, LUFS", "Mids cost, dB", "D to E"] {
        assert!(page.contains(word), "{word} is not in\n{page}");
    }
}

/// The cells hold the costs that `check` shows, those on small speakers marked; a mix that got quieter is not
/// said to be louder for nothing.
#[test]
fn the_table_shows_the_costs_of_check() {
    let d = directory();
    let whole = song(6, 12.0);
    let files = [("loud.wav", 1.0), ("quiet.wav", 0.5)]
        .map(|(name, gain)| write(d.path(), name, &whole, gain, 0.9));
    let page = text(&run(&[&files[0], &files[1]], &[]).stdout);
    let row = page.lines().find(|line| line.starts_with("Mids cost")).expect("a row");
    let cells: Vec<&str> = row.split_whitespace().skip(3).collect();
    let shown = brunt().arg("check").arg(&files[0]).output().expect("brunt runs");
    let shown = text(&shown.stdout);
    let shown = shown.lines().find(|line| line.contains(" on small speakers; hits 0.0 dB"));
    let shown: Vec<&str> = shown.expect("weak mids").split_whitespace().collect();
    let (state, cost) = (shown[1], format!("{}*", shown[2]));
    assert_eq!(cells, [state, &*cost, state, &*cost], "{page}");
    assert!(page.lines().any(|line| line == "* on small speakers"), "{page}");
    assert!(page.contains("LU quieter.") && !page.contains("extra loudness"), "{page}");
}

#[test]
fn another_song_is_measured_whole_and_said_to_be_another() {
    let d = directory();
    let a = write(d.path(), "a.wav", &song(7, 12.0), 1.0, 0.9);
    let b = write(d.path(), "b.wav", &song(8, 12.0), 1.0, 0.9);
    let output = run(&[&a, &b], &["--json", "-"]);
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["revisions"][1]["aligned"], false);
    assert!(json["passage_s"].is_null());
    assert!(json["changes"][0]["says"][0].as_str().expect("text").contains("same song"));
}

#[test]
fn bad_input_ends_in_one_line_and_writes_nothing() {
    let d = directory();
    let a = write(d.path(), "a.wav", &song(7, 8.0), 1.0, 0.9);
    let missing = d.path().join("none.wav");
    let target = d.path().join("history.json");
    let to = target.to_str().expect("UTF-8");
    for files in [&[&a, &missing][..], &[&a][..]] {
        let output = run(files, &["--json", to]);
        assert_eq!(output.status.code(), Some(2));
        assert!(!target.exists());
    }
    let output = run(&[&a, &missing], &[]);
    let said = text(&output.stderr);
    assert!(said.contains("none.wav") && said.lines().count() == 1, "{said}");
    // No input is overwritten.
    let output = run(&[&a, &a], &["--json", a.to_str().expect("UTF-8")]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
}

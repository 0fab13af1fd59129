//! `brunt takes`: two takes of a riff at two gains.

use std::path::Path;

use serde_json::Value;

use crate::support::{RATE, brunt, directory, text};

/// Plucks of a low string through tanh, a closed form: more gain, less attack.
fn take(path: &Path, gain: f64, level: f64) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a place to write");
    let frames = RATE as usize / 2;
    for n in 0..12 * frames {
        let s = (n % frames) as f64 / f64::from(RATE);
        let tone = (std::f64::consts::TAU * 110.0 * s).sin() * (-s / 0.35).exp();
        writer.write_sample((level * (gain * tone).tanh()) as f32).expect("room");
    }
    writer.finalize().expect("room");
}

#[test]
fn the_take_with_less_gain_has_more_attack_at_any_level() {
    let folder = directory();
    let path = |name: &str| folder.path().join(name);
    take(&path("loud.wav"), 20.0, 0.9);
    take(&path("quiet.wav"), 2.0, 0.05);
    let run = |args: &[&str]| {
        let files = [path("loud.wav"), path("quiet.wav")];
        brunt().arg("takes").args(files).args(args).output().expect("brunt runs")
    };
    let plain = run(&[]);
    assert!(plain.status.success(), "{}", text(&plain.stderr));
    let page = text(&plain.stdout);
    assert!(page.contains("quiet has") && page.contains("more attack than loud"), "{page}");
    let json: Value = serde_json::from_slice(&run(&["--json", "-"]).stdout).expect("JSON");
    assert_eq!(json["schema"], "brunt-takes/1");
    assert_eq!(json["most_attack"], 1);
    assert!(json["takes"][1]["more_attack_db"].as_f64().expect("a number") > 1.0, "{json}");
}

/// Two sessions have a file of one name each: the folders tell them apart, in the table and in the answer.
#[test]
fn takes_of_one_name_are_told_apart_by_their_folders() {
    let folder = directory();
    let files = ["session A", "session B"].map(|name| folder.path().join(name).join("gtr.wav"));
    for (file, gain) in files.iter().zip([20.0, 2.0]) {
        std::fs::create_dir(file.parent().expect("a folder")).expect("made");
        take(file, gain, 0.5);
    }
    let output = brunt().arg("takes").args(&files).output().expect("brunt runs");
    let page = text(&output.stdout);
    let rows: Vec<&str> = page.lines().filter_map(|line| line.split("  ").next()).collect();
    assert_eq!(rows[1..3], ["session A/gtr", "session B/gtr"], "{page}");
    assert!(page.contains("session B/gtr has") && page.contains("than session A/gtr"), "{page}");
}

#[test]
fn one_take_alone_or_a_short_one_is_refused() {
    let folder = directory();
    let good = folder.path().join("good.wav");
    take(&good, 2.0, 0.5);
    let alone = brunt().arg("takes").arg(&good).output().expect("brunt runs");
    assert_eq!(alone.status.code(), Some(2));
    let short = folder.path().join("short.wav");
    let spec = hound::WavReader::open(&good).expect("a WAV").spec();
    let mut writer = hound::WavWriter::create(&short, spec).expect("a place to write");
    (0..RATE).for_each(|_| writer.write_sample(0.1f32).expect("room"));
    writer.finalize().expect("room");
    let refused = brunt().arg("takes").args([&good, &short]).output().expect("brunt runs");
    assert_eq!(refused.status.code(), Some(2));
    let error = text(&refused.stderr);
    assert!(error.contains("short.wav") && error.contains("2 s"), "{error}");
}

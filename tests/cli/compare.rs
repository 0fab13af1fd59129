//! `--before` and `--reference` against files whose relation the test has made.

use std::path::{Path, PathBuf};

use crate::support::{RATE, check, copy_of, directory, path_text, programme, text, write_wav};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use serde_json::Value;

/// The programme with another level in each second, so that no second is like another.
fn uneven(seconds: f64) -> Vec<Vec<f32>> {
    let mut planes = programme(seconds).to_vec();
    for plane in &mut planes {
        for (n, x) in plane.iter_mut().enumerate() {
            let t = n as f64 / f64::from(RATE);
            *x *= (0.35 + 0.25 * (t * 1.3).sin()) as f32;
        }
    }
    planes
}

/// `planes` later by `frames`, driven by `gain` and cut at `ceiling`.
fn limited(planes: &[Vec<f32>], frames: usize, gain: f32, ceiling: f32) -> Vec<Vec<f32>> {
    let late = |plane: &Vec<f32>| {
        let cut = plane.iter().map(|x| (x * gain).clamp(-ceiling, ceiling));
        std::iter::repeat_n(0.0, frames).chain(cut).collect()
    };
    planes.iter().map(late).collect()
}

fn wav(directory: &Path, name: &str, planes: &[Vec<f32>], rate: u32) -> PathBuf {
    let path = directory.join(name);
    write_wav(&path, planes, rate, 32);
    path
}

fn json(mix: &Path, args: &[&str]) -> Value {
    let mut all = vec!["--json", "-"];
    all.extend(args);
    let output = check(mix, &all);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("a number: {value}"))
}

/// Every name of the contract, written out here.
const NAMES: [&str; 8] = [
    "role",
    "delay_ms",
    "gain_db",
    "contrast_difference_db",
    "band_difference_db",
    "lost_db_median",
    "reduction_db_median",
    "reduction_db_max",
];

/// Closed form: the delay and the drive are what the test has put between the files. An offset of
/// 1.9 s lies beyond the meter's own 500 ms.
#[test]
fn a_before_file_is_set_beside_the_mix() {
    let d = directory();
    let clean = uneven(10.0);
    let before = wav(d.path(), "before.wav", &clean, RATE);
    let alone = json(&before, &[])["listener"].clone();
    for (frames, gain_db) in [(0usize, 3.0f64), (1_234, 6.0), (91_200, 4.0)] {
        let gain = 10f64.powf(gain_db / 20.0) as f32;
        let mix = wav(d.path(), "mix.wav", &limited(&clean, frames, gain, 0.3), RATE);
        let json = json(&mix, &["--before", path_text(&before)]);
        let compare = &json["compare"];
        for name in NAMES {
            assert!(compare.get(name).is_some(), "{name} in {compare}");
        }
        assert_eq!(compare["role"], "before");
        assert_eq!(compare["relation"], "found");
        let delay_ms = frames as f64 / f64::from(RATE) * 1e3;
        assert!((number(&compare["delay_ms"]) - delay_ms).abs() < 0.002, "{frames}: {compare}");
        assert!((number(&compare["gain_db"]) - gain_db).abs() < 0.2, "{gain_db}: {compare}");
        let hits = json["hits"].as_array().expect("hits");
        let exact = hits.iter().filter(|hit| hit["before_peak_dbtp"].is_number());
        assert!(exact.count() + 1 >= hits.len(), "every hit is measured, one at an end apart");
        assert!(number(&compare["reduction_db_max"]) > 0.5, "{compare}");
        assert_eq!(json["leaks"]["ceiling"]["measured"], true);
        // What the listener gets of it is what the file alone says; up to the same passage.
        for (target, alone) in alone.as_array().expect("three loudnesses").iter().enumerate() {
            let listener = &json["listener"][target];
            let level = number(&listener["before_hit_level_lufs"]);
            let own = number(&alone["hit_level_lufs"]);
            assert!((level - own).abs() < 0.1, "{listener} beside {alone}");
            let bought = number(&listener["hit_level_lufs"]) - level;
            assert!((number(&listener["bought_db"]) - bought).abs() < 1e-9, "{listener}");
        }
        let says = json["leaks"]["ceiling"]["says"].as_str().expect("text");
        assert!(says.contains("Measured gain reduction"), "{says}");
    }
}

/// Another rate and another number of channels change neither delay nor relation.
#[test]
fn a_before_file_may_have_another_rate_and_one_channel() {
    let d = directory();
    let clean = uneven(8.0);
    let mix = wav(d.path(), "mix.wav", &limited(&clean, 480, 1.4, 0.3), RATE);
    let mono: Vec<f32> = clean[0].iter().zip(&clean[1]).map(|(l, r)| 0.5 * (l + r)).collect();
    let before = wav(d.path(), "mono.wav", &[mono], RATE);
    let compare = json(&mix, &["--before", path_text(&before)])["compare"].clone();
    // The noise differs between left and right, so mono is less alike; it must not be wrong.
    if compare["relation"] == "found" {
        assert!((number(&compare["delay_ms"]) - 10.0).abs() < 0.02, "{compare}");
    }
    let before = d.path().join("slow.wav");
    let full = wav(d.path(), "full.wav", &clean, RATE);
    crate::support::ffmpeg(&[
        "-i",
        path_text(&full),
        "-ar",
        "44100",
        "-c:a",
        "pcm_f32le",
        path_text(&before),
    ]);
    let compare = json(&mix, &["--before", path_text(&before)])["compare"].clone();
    assert_eq!(compare["relation"], "found", "{compare}");
    assert!((number(&compare["delay_ms"]) - 10.0).abs() < 0.02, "{compare}");
}

#[test]
fn an_unrelated_before_file_is_said_to_be_none() {
    let d = directory();
    let mix = wav(d.path(), "mix.wav", &uneven(8.0), RATE);
    // Noise of another seed: what this file has of its own.
    let mut random = Pcg64::seed_from_u64(99);
    let mut noise = || (0..8 * RATE).map(|_| random.random_range(-0.1..0.1)).collect();
    let other: Vec<Vec<f32>> = (0..2).map(|_| noise()).collect();
    let before = wav(d.path(), "other.wav", &other, RATE);
    let json = json(&mix, &["--before", path_text(&before)]);
    let compare = &json["compare"];
    assert_eq!(compare["relation"], "none", "{compare}");
    for name in &NAMES[1..] {
        let known = match &compare[name] {
            Value::Object(bands) => bands.values().any(|x| !x.is_null()),
            other => !other.is_null(),
        };
        assert!(!known, "{name} is not known: {compare}");
    }
    assert!(compare["says"].as_str().is_some_and(|s| s.contains("No match found")));
    assert_eq!(json["leaks"]["ceiling"]["measured"], false);
}

/// A before file that ends early covers few hits, and the sentence says how many.
#[test]
fn a_before_file_that_ends_early_says_what_it_covers() {
    let d = directory();
    let planes = uneven(24.0);
    let mix = wav(d.path(), "mix.wav", &planes, RATE);
    let first = (10.0 * f64::from(RATE)) as usize;
    let start: Vec<Vec<f32>> = planes.iter().map(|p| p[..first].to_vec()).collect();
    let short = wav(d.path(), "short.wav", &start, RATE);
    let says = |before: &std::path::Path| {
        let compare = json(&mix, &["--before", path_text(before)])["compare"].clone();
        compare["says"].as_str().expect("a sentence").to_owned()
    };
    assert!(says(&short).contains("the other version covers no more"), "{}", says(&short));
    let all = copy_of(&mix, "all.wav");
    assert!(!says(&all).contains("covers"), "{}", says(&all));
}

/// Closed form: a copy 6 dB down has the same contrast and bands, and 6 LU less loudness.
#[test]
fn a_reference_is_compared_at_matched_loudness() {
    let d = directory();
    let planes = uneven(8.0);
    let mix = wav(d.path(), "mix.wav", &planes, RATE);
    let half: Vec<Vec<f32>> = planes.iter().map(|p| p.iter().map(|x| x * 0.5).collect()).collect();
    let reference = wav(d.path(), "reference.wav", &half, RATE);
    let json = json(&mix, &["--reference", path_text(&reference)]);
    let compare = json["compare"].clone();
    assert_eq!(compare["role"], "reference");
    assert!((number(&compare["gain_db"]) - 6.02).abs() < 0.02, "{compare}");
    assert!(number(&compare["contrast_difference_db"]).abs() < 0.02, "{compare}");
    for band in ["low", "mid", "high"] {
        assert!(number(&compare["band_difference_db"][band]).abs() < 0.02, "{band}: {compare}");
    }
    assert_eq!(compare["delay_ms"], Value::Null);
    // The mids are judged beside it, and every third octave that both have stands beside its own.
    let mids = &json["leaks"]["mids"];
    assert_eq!(mids["state"], "clear", "{mids}");
    assert!(number(&mids["weakness_over_reference_db"]).abs() < 0.01, "{mids}");
    let thirds = json["balance"]["thirds"].as_array().expect("a list");
    let beside = thirds.iter().filter_map(|third| third["over_reference_db"].as_f64());
    let beside: Vec<f64> = beside.collect();
    assert!(beside.len() > 20 && beside.iter().all(|db| db.abs() < 0.01), "{beside:?}");
    let page = text(&check(&mix, &["--reference", path_text(&reference)]).stdout);
    assert!(page.contains("Against the reference"), "{page}");
}

/// A file without the top that the mix has would differ there by its rate alone: mids 100 dB weaker than a
/// reference at 8 kHz. From 36 kHz on, or at the mix's own rate, it is taken.
#[test]
fn a_file_of_a_low_rate_is_refused_and_says_what_is_expected() {
    let d = directory();
    let at = |name: &str, rate| wav(d.path(), name, &uneven(6.0), rate);
    let (mix, low) = (at("mix.wav", RATE), at("low mix.wav", 22_050));
    let (slower, slow, enough) = (at("8.wav", 8_000), at("22.wav", 22_050), at("36.wav", 36_000));
    for option in ["--before", "--reference"] {
        for (mix, other, words) in [
            (
                &mix,
                &slower,
                Some(["8.wav: sample rate 8000 Hz", "mix at 48000 Hz; expected 36000 Hz"]),
            ),
            (
                &mix,
                &slow,
                Some(["22.wav: sample rate 22050 Hz", "48000 Hz; expected 36000 Hz or more"]),
            ),
            (
                &low,
                &slower,
                Some(["8.wav: sample rate 8000 Hz", "22050 Hz; expected 22050 Hz or more"]),
            ),
            (&mix, &enough, None),
            (&low, &slow, None),
        ] {
            let output = check(mix, &[option, path_text(other), "--json", "-"]);
            let said = text(&output.stderr);
            let status = if words.is_some() { 2 } else { 0 };
            assert_eq!(output.status.code(), Some(status), "{option} {other:?}: {said}");
            for word in words.iter().flatten() {
                assert!(said.contains(word), "{option} names {word:?}: {said}");
            }
        }
        let out = d.path().join("out");
        let mut listen = crate::support::brunt();
        listen.arg("listen").args([&mix, Path::new("--out"), &out, Path::new(option), &slow]);
        let said = text(&listen.output().expect("brunt runs").stderr);
        assert!(said.contains("22.wav: sample rate 22050 Hz"), "{said}");
        assert!(!out.exists());
    }
}

#[test]
fn both_options_at_once_and_missing_files_are_refused() {
    let d = directory();
    let mix = wav(d.path(), "mix.wav", &uneven(2.0), RATE);
    let mix_text = path_text(&mix);
    let output = check(&mix, &["--before", mix_text, "--reference", mix_text]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("--reference"), "{}", text(&output.stderr));
    for option in ["--before", "--reference"] {
        let output = check(&mix, &[option, "nowhere.wav"]);
        assert_eq!(output.status.code(), Some(2));
        let said = text(&output.stderr);
        assert!(said.contains("nowhere.wav: no such file"), "{said}");
    }
}

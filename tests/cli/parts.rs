//! `--part ROLE=FILE`: rows and leaks in the JSON, the sum for want of a mix, and bad input.

use std::path::{Path, PathBuf};

use brunt_lab::corpus::audio::db;
use brunt_lab::corpus::mix::{Library, render};
use brunt_lab::corpus::process::{Processor, run_on_drums, without_drums};
use brunt_lab::corpus::{Stereo, songs};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use serde_json::Value;

use crate::support::{RATE, brunt, directory, path_text, text, write_wav};

/// Decaying tones of `hz` every half second from 0.5 s on, `late_ms` late, with a click each.
fn strokes(seconds: f64, hz: f64, late_ms: f64) -> Vec<Vec<f32>> {
    let rate = f64::from(RATE);
    let frames = (seconds * rate) as usize;
    let mut plane = vec![0.0f32; frames];
    let mut random = Pcg64::seed_from_u64(1);
    let mut at = 0.5 + late_ms * 1e-3;
    while at < seconds - 0.5 {
        let start = (at * rate).round() as usize;
        for n in 0..(0.3 * rate) as usize {
            let t = n as f64 / rate;
            let noise = random.random_range(-1.0..1.0);
            let tone = (std::f64::consts::TAU * hz * t).sin() * (-t / 0.06).exp();
            plane[start + n] += (0.3 * tone + 0.15 * noise * (-t / 0.008).exp()) as f32;
        }
        at += 0.5;
    }
    vec![plane]
}

fn stem(directory: &Path, name: &str, hz: f64, late_ms: f64) -> PathBuf {
    let path = directory.join(name);
    write_wav(&path, &strokes(16.0, hz, late_ms), RATE, 24);
    path
}

fn run(args: &[&str]) -> std::process::Output {
    brunt().arg("check").args(args).output().expect("brunt runs")
}

fn part(role: &str, path: &Path) -> String {
    format!("--part={role}={}", path_text(path))
}

/// The names of the contract, and the offset that the files were made with, within 1 ms.
#[test]
fn parts_fill_their_rows_and_leaks() {
    let d = directory();
    let drums = part("drums", &stem(d.path(), "drums.wav", 60.0, 0.0));
    let bass = part("bass", &stem(d.path(), "bass.wav", 110.0, 12.0));
    let output = run(&["--json", "-", &drums, &bass]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["mix_is_sum"], true);
    assert_eq!(json["mix"]["file"], "sum of the parts");
    let rows = json["parts"].as_array().expect("rows");
    assert_eq!(rows.len(), 2);
    for row in rows {
        for name in [
            "role",
            "file",
            "onsets_s",
            "offset_ms",
            "spread_ms",
            "early_share",
            "shared_onset_ratio",
            "sustain_ratio",
            "attack_to_sustain_db",
            "leak_costs_db",
        ] {
            assert!(row.get(name).is_some(), "{name} is missing in {row}");
        }
        assert_eq!(row["onsets_s"].as_array().expect("times").len(), 30);
    }
    assert!(rows[0]["offset_ms"].is_null(), "the reference has no offset");
    let late = rows[1]["offset_ms"].as_f64().expect("an offset");
    assert!((late - 12.0).abs() <= 1.0, "{late} ms, expected 12");
    assert_ne!(json["leaks"]["timing"]["state"], "unknown");
    assert!(json["leaks"]["timing"]["says"].as_str().expect("a line").contains("behind"));
}

/// Two takes of a riff 25 ms apart lose 1.5 dB where they sum (decay of 60 ms, powers added), and the
/// terminal says what to do with them besides the part that the advice names; 3 ms apart they lose nothing.
#[test]
fn two_takes_apart_are_something_to_try() {
    let d = directory();
    let drums = part("drums", &stem(d.path(), "drums.wav", 60.0, 0.0));
    let left = part("guitars", &stem(d.path(), "left.wav", 330.0, 0.0));
    for (late_ms, said) in [(25.0, true), (3.0, false)] {
        let right = part("guitars", &stem(d.path(), "right.wav", 415.0, late_ms));
        let output = run(&[&drums, &left, &right]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let page = text(&output.stdout);
        assert_eq!(page.contains("Bring these two together."), said, "{late_ms} ms: {page}");
    }
}

/// Strokes of noise that fall fast, low and high in turn, as nothing but drums sounds.
fn kit(directory: &Path) -> PathBuf {
    let rate = f64::from(RATE);
    let mut plane = vec![0.0f32; 16 * RATE as usize];
    let (mut random, mut low) = (Pcg64::seed_from_u64(1), 0.0f64);
    for step in 0..60 {
        let start = ((0.5 + 0.25 * f64::from(step)) * rate) as usize;
        for n in 0..(0.2 * rate) as usize {
            let t = n as f64 / rate;
            let noise = random.random_range(-1.0..1.0);
            low += 0.2 * (noise - low);
            let kick = (std::f64::consts::TAU * 60.0 * t).sin() * (-t / 0.05).exp() + 0.1 * low;
            let sound = match step % 4 {
                0 => 0.5 * kick,
                2 => 0.4 * noise * (-t / 0.04).exp(),
                _ => 0.15 * (noise - low) * (-t / 0.02).exp(),
            };
            plane[start + n] += sound as f32;
        }
    }
    let path = directory.join("kit.wav");
    write_wav(&path, &[plane], RATE, 24);
    path
}

/// Drums given as bass are doubted on the terminal, in the JSON and on the page; given as drums, or
/// as other, which may be anything, they are not.
#[test]
fn a_part_that_sounds_like_another_role_is_doubted() {
    let d = directory();
    let kit = kit(d.path());
    for (role, doubted) in [("bass", true), ("drums", false), ("other", false)] {
        let page = d.path().join(format!("{role}.html"));
        let json = d.path().join(format!("{role}.json"));
        let part = part(role, &kit);
        let to = |path: &Path| path_text(path).to_owned();
        let output = run(&["--html", &to(&page), "--json", &to(&json), &part]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let read = |path: &Path| std::fs::read_to_string(path).expect("written");
        let json: Value = serde_json::from_str(&read(&json)).expect("JSON");
        assert_eq!(json["parts"][0]["role"], role);
        assert_eq!(json["parts"][0]["role_suggested"], "drums", "whatever it was given as");
        let says = json["parts"][0]["role_says"].as_str().expect("words");
        assert!(says.starts_with("Sounds like drums ("), "{says}");
        let doubt = format!("Given as {role}. Sounds like drums");
        assert_eq!(read(&page).contains(&doubt), doubted, "the page, {role}");
        let output = run(&[&part]);
        assert_eq!(text(&output.stdout).contains(&doubt), doubted, "the terminal, {role}");
    }
}

/// What is not clear is no suggestion, and is said in the JSON as null.
#[test]
fn a_part_whose_sound_is_not_clear_is_not_doubted() {
    let d = directory();
    let tone = d.path().join("tone.wav");
    let wave = |n: usize| (n as f32 * 0.05).sin() * 0.2;
    write_wav(&tone, &[(0..16 * RATE as usize).map(wave).collect()], RATE, 24);
    let output = run(&["--json", "-", &part("bass", &tone)]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let row = json["parts"][0].as_object().expect("a row");
    for name in ["role_suggested", "role_says"] {
        assert!(row.get(name).expect("there").is_null(), "{name}");
    }
}

/// ffmpeg's `alimiter` at its defaults, 8 dB, on the drum bus of a song that no fit has seen: the whole
/// mix hardly shows it, the drums do, in the JSON, on the page and on the terminal. Without it they
/// keep their own heights.
#[test]
fn a_limiter_on_the_drum_bus_is_told_from_the_drums() {
    const ALIMITER: Processor =
        Processor::Alimiter { attack_ms: 5.0, release_ms: 50.0, asc: false };
    const DRIVE_DB: f64 = 8.0;
    let d = directory();
    let song = songs::ALL.iter().find(|song| song.name == "late-train").expect("there");
    let mix = render(song, RATE, &mut Library::default()).expect("rendered");
    let rest = without_drums(&mix).expect("drums");
    let limited = run_on_drums(ALIMITER, &mix, DRIVE_DB).expect("ffmpeg runs").after;
    let mut rest_up = rest.clone();
    rest_up.gain(db(DRIVE_DB));
    let read = |name: &str, drums: &Stereo, rest: &Stereo| {
        let mut whole = drums.clone();
        whole.add(rest, 0, 1.0, 1.0);
        let [mix, stem] = ["mix", "drums"].map(|what| d.path().join(format!("{name}-{what}.wav")));
        whole.write(&mix).expect("written");
        drums.write(&stem).expect("written");
        let [json, page] = ["json", "html"].map(|end| d.path().join(format!("{name}.{end}")));
        let drums = part("drums", &stem);
        let args = [&mix, Path::new("--json"), &json, Path::new("--html"), &page];
        let args: Vec<&str> = args.map(path_text).into_iter().chain([&*drums]).collect();
        assert_eq!(run(&args).status.code(), Some(0));
        let told = run(&[path_text(&mix), &drums]);
        let read = |path: &Path| std::fs::read_to_string(path).expect("written");
        let json: Value = serde_json::from_str(&read(&json)).expect("JSON");
        (json, read(&page), text(&told.stdout))
    };
    let (limited, page, told) = read("limited", &limited, &rest_up);
    let ceiling = &limited["parts"][0]["ceiling"];
    println!("{ceiling}; the mix: {}", limited["leaks"]["ceiling"]);
    assert_eq!(ceiling["kind"], "limiter");
    let of = |json: &Value| json["implied_reduction_p90_db"].as_f64().expect("read");
    assert!(of(ceiling) > of(&limited["leaks"]["ceiling"]) + 1.0, "the drums tell more");
    let advice = limited["leaks"]["ceiling"]["do"].as_str().expect("advice");
    assert!(advice.starts_with("Ease the limiter"), "{advice}");
    let verdict = limited["verdict"].as_str().expect("a line");
    assert!(verdict.contains("flattens the drums' own hits"), "{verdict}");
    assert!(page.contains("Limiting on the drums alone") && page.contains(advice));
    assert!(told.contains("On its own: "), "{told}");
    let (plain, ..) = read("plain", &mix.buses["drums"], &rest);
    assert!(!plain["leaks"]["ceiling"]["do"].as_str().expect("advice").starts_with("Ease"));
    assert_eq!(plain["parts"][0]["ceiling"]["kind"], "none", "{}", plain["parts"][0]["ceiling"]);
}

/// Beside a mix nothing of the mix's own numbers moves.
#[test]
fn parts_leave_the_mix_alone() {
    let d = directory();
    let mix = stem(d.path(), "mix.wav", 60.0, 0.0);
    let drums = stem(d.path(), "drums.wav", 60.0, 0.0);
    let json = |args: &[&str]| -> Value {
        let output = run(args);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        serde_json::from_slice(&output.stdout).expect("JSON")
    };
    let alone = json(&[path_text(&mix), "--json", "-"]);
    let beside = json(&[path_text(&mix), "--json", "-", &part("drums", &drums)]);
    for name in ["mix", "loudness", "balance"] {
        assert_eq!(alone[name], beside[name], "{name}");
    }
    // What is buried is known with the drums alone: here the mix is the drums, and nothing is.
    let without = |report: &Value| -> Value {
        let mut punch = report["punch"].clone();
        let fields = punch.as_object_mut().expect("an object");
        // By drum where the drums are there.
        fields.remove("shape_by_drum");
        let buried: Vec<_> =
            ["buried", "buried_share"].iter().filter_map(|name| fields.remove(*name)).collect();
        assert!(buried.iter().all(|n| n.is_null() || n.as_f64() == Some(0.0)), "{buried:?}");
        punch
    };
    assert_eq!(without(&alone), without(&beside));
    assert_eq!(beside["mix_is_sum"], false);
    assert_eq!(beside["leaks"]["timing"]["state"], "unknown", "one part shows no timing");
}

/// A part may rest through the passage: it is said to be silent, and the others are read.
#[test]
fn a_part_that_rests_is_told() {
    let d = directory();
    let drums = stem(d.path(), "drums.wav", 60.0, 0.0);
    let bass = stem(d.path(), "bass.wav", 80.0, 8.0);
    let rests = d.path().join("rests.wav");
    write_wav(&rests, &[vec![0.0; 16 * RATE as usize]], RATE, 24);
    let parts = [part("drums", &drums), part("bass", &bass), part("guitars", &rests)];
    let args: Vec<&str> = parts.iter().map(String::as_str).collect();
    let page = run(&args);
    assert!(page.status.success(), "{}", text(&page.stderr));
    assert!(text(&page.stdout).contains("rests.wav: silent here"), "{}", text(&page.stdout));
    let json = run(&[&args[..], &["--json", "-"]].concat());
    let json: Value = serde_json::from_slice(&json.stdout).expect("JSON");
    let rows = json["parts"].as_array().expect("parts");
    let silent: Vec<bool> = rows.iter().map(|row| row["silent"] == true).collect();
    assert_eq!(silent, [false, false, true]);
    let offset = json["parts"][1]["offset_ms"].as_f64().expect("read");
    assert!((offset - 8.0).abs() < 1.0, "{offset}");
}

/// Samples that are no numbers are silence wherever they come from: said with the file's name and their
/// count, and costs are what they are without them.
#[test]
fn damaged_samples_of_any_file_are_counted_and_spread_nowhere() {
    let d = directory();
    let (drums, bass) = (strokes(16.0, 60.0, 0.0), strokes(16.0, 110.0, 12.0));
    let sum: Vec<f32> = drums[0].iter().zip(&bass[0]).map(|(a, b)| a + b).collect();
    // Two between two strokes, where there is next to nothing.
    let damaged = |plane: &[f32]| {
        let mut plane = plane.to_vec();
        (plane[396_000], plane[396_001]) = (f32::NAN, f32::NEG_INFINITY);
        plane
    };
    let file = |name: &str, plane: &[f32]| {
        let path = d.path().join(name);
        write_wav(&path, &[plane.to_vec()], RATE, 32);
        path
    };
    let (mix, drums) = (file("mix.wav", &sum), part("drums", &file("drums.wav", &drums[0])));
    let whole = part("bass", &file("whole.wav", &bass[0]));
    let broken = part("bass", &file("broken.wav", &damaged(&bass[0])));
    let other = file("other.wav", &damaged(&sum));
    let mixes = [&mix, &file("broken mix.wav", &damaged(&sum))];
    let json = |args: &[&str]| -> Value {
        let output = run(&[args, &["--json", "-"]].concat());
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        serde_json::from_slice(&output.stdout).expect("JSON")
    };
    let cost =
        |json: &Value| json["leaks"]["timing"]["shared_attack_cost_db"].as_f64().expect("a cost");
    let want = cost(&json(&[path_text(&mix), &drums, &whole]));
    for mix in mixes {
        for bass in [&whole, &broken] {
            let got = cost(&json(&[path_text(mix), &drums, bass]));
            assert!((got - want).abs() < 0.05, "{mix:?}, {bass}: {got} dB, expected {want} dB");
        }
    }
    for option in ["--before", "--reference"] {
        let args = [path_text(&mix), option, path_text(&other), &drums, &broken];
        let json = json(&args);
        let counts = serde_json::json!({"nan_samples": 1, "inf_samples": 1});
        assert_eq!((&json["compare"]["input"], &json["parts"][1]["input"]), (&counts, &counts));
        assert_eq!(json["parts"][0]["input"]["nan_samples"], 0);
        let html = d.path().join(format!("{option}.html"));
        let page = text(&run(&[&args[..], &["--html", path_text(&html)]].concat()).stdout);
        let said = page.split_whitespace().collect::<Vec<_>>().join(" ");
        let damage = "1 sample not a number, 1 infinite or over +60 dBFS: measured as silence";
        for name in ["other.wav", "broken.wav"] {
            assert!(said.contains(&format!("{name}: {damage}")), "{name}: {page}");
        }
        let html = std::fs::read_to_string(html).expect("the page");
        // Units are held to their numbers there.
        let damage_there = damage.replace(" dBFS", "\u{a0}dBFS");
        assert_eq!(html.matches(&damage_there).count(), 2, "the comparison and the part");
        let out = d.path().join(format!("{option} to listen to"));
        let listen = [&["listen"], &args[..], &["--out", path_text(&out)]].concat();
        let output = brunt().args(listen).output().expect("brunt runs");
        let said = text(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
        for name in ["other.wav", "broken.wav"] {
            assert!(said.contains(&format!("{name}: {damage}")), "{name}: {said}");
        }
    }
}

/// One line that names the file or the option, the value and what was expected; status 2; nothing
/// on standard output.
#[test]
fn bad_parts_are_named() {
    let d = directory();
    let good = stem(d.path(), "good.wav", 60.0, 0.0);
    let short = d.path().join("short.wav");
    write_wav(&short, &strokes(8.0, 60.0, 0.0), RATE, 24);
    let silent = d.path().join("silent.wav");
    write_wav(&silent, &[vec![0.0; 16 * RATE as usize]], RATE, 24);
    let slow = d.path().join("slow.wav");
    write_wav(&slow, &strokes(16.0, 60.0, 0.0), 44_100, 24);
    let missing = d.path().join("none.wav");
    let cases = [
        (part("horn", &good), ["horn", "expected one of drums, bass, guitars, vocals, other"]),
        ("--part=good.wav".to_owned(), ["good.wav", "expected ROLE=FILE"]),
        ("--part=bass=".to_owned(), ["bass=", "no file"]),
        (part("bass", &short), ["short.wav", "8.000 s of audio; the mix has 16.000 s"]),
        (part("bass", &silent), ["silent.wav", "silent: every sample is 0"]),
        (part("bass", &slow), ["slow.wav", "sample rate 44100 Hz; the other files have 48000 Hz"]),
        (part("bass", &missing), ["none.wav", "no such file"]),
    ];
    for (option, wants) in cases {
        let output = run(&[path_text(&good), "--json", "-", &option]);
        let error = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{option}: {error}");
        assert!(output.stdout.is_empty(), "{option}");
        for want in wants {
            assert!(error.contains(want), "{option}: no \"{want}\" in: {error}");
        }
    }
    let output = run(&["--json", "-"]);
    assert_eq!(output.status.code(), Some(2), "neither mix nor part");
}

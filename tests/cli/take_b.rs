//! `brunt listen --take-b`: a guitar through another amp in its part's place, against the same mix made
//! by hand.

use std::fs;
use std::path::Path;

use brunt_files::whole::Whole;
use serde_json::Value;

use crate::support::{RATE, brunt, copy_of, directory, path_text, text, write_wav};

/// Length of the song, s.
const SONG_S: usize = 24;
/// Distance of two hits, s.
const APART_S: f64 = 0.5;
/// Loudness of take B's file under that of the part's, as a factor: it must not matter.
const QUIETER: f32 = 0.3;

/// One sound every half second: `sound(t)` at `t` s after it starts.
fn every(sound: impl Fn(f64) -> f64) -> Vec<f32> {
    let rate = f64::from(RATE);
    let at = |n: usize| (n as f64 / rate - 0.25).rem_euclid(APART_S);
    (0..SONG_S * RATE as usize).map(|n| sound(at(n)) as f32).collect()
}

/// Plucks through tanh, a closed form: more gain, less attack and a flatter sustain.
fn guitar(gain: f64) -> Vec<f32> {
    every(|t| {
        let tone = (std::f64::consts::TAU * 220.0 * t).sin() * (-t / 0.2).exp();
        0.15 * (gain * tone).tanh()
    })
}

fn drums() -> Vec<f32> {
    every(|t| {
        let click = (std::f64::consts::TAU * 2_750.0 * t).sin() * (-t / 0.004).exp();
        0.4 * ((std::f64::consts::TAU * 60.0 * t).sin() * (-t / 0.06).exp() + 0.5 * click)
    })
}

fn listen(folder: &Path, more: &[&str]) -> std::process::Output {
    let path = |name: &str| folder.join(name);
    let mut command = brunt();
    command.arg("listen").arg(path("mix.wav")).arg("--out").arg(path("out"));
    command.arg(format!("--part=drums={}", path_text(&path("drums.wav"))));
    command.args(more).output().expect("brunt runs")
}

fn song(folder: &Path) {
    let (drums, a, b) = (drums(), guitar(20.0), guitar(2.0));
    let mix: Vec<f32> = drums.iter().zip(&a).map(|(d, a)| d + a).collect();
    let quiet: Vec<f32> = b.iter().map(|x| x * QUIETER).collect();
    for (name, plane) in [("drums.wav", drums), ("a.wav", a), ("b.wav", quiet), ("mix.wav", mix)] {
        write_wav(&folder.join(name), &[plane], RATE, 32);
    }
}

#[test]
fn take_b_is_heard_in_the_place_of_the_guitar_as_loud() {
    let d = directory();
    song(d.path());
    let (a, b) = (d.path().join("a.wav"), d.path().join("b.wav"));
    let part = format!("--part=guitars={}", path_text(&a));
    let output = listen(d.path(), &[&part, "--take-b", path_text(&b), "--quiet"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let json = fs::read_to_string(d.path().join("out/listen.json")).expect("the JSON");
    let json: Value = serde_json::from_str(&json).expect("JSON");
    let versions = json["versions"].as_array().expect("versions");
    let version = versions.iter().find(|v| v["id"] == "take-b").expect("take B");
    assert_eq!((&version["leak"], &version["against"]), (&"drive".into(), &"mix".into()));
    let what = version["what"].as_str().expect("words");
    assert!(what.contains("b has") && what.contains("more attack than a"), "{what}");
    let db = |name: &str| version[name].as_f64().unwrap_or_else(|| panic!("{name}: {version}"));
    // Bar: 0.5 dB between what is said and what the file gives. Less sustain, so hits stand out more.
    println!(
        "predicted {:.2}, estimated {:.2}, measured {:.2} dB",
        db("predicted_db"),
        db("estimated_db"),
        db("remeasured_db")
    );
    assert!((db("predicted_db") - db("remeasured_db")).abs() <= 0.5, "{version}");
    assert!((db("estimated_db") - db("remeasured_db")).abs() <= 1.0, "{version}");
    assert!(db("remeasured_db") > 0.5, "{version}");

    // The same by hand: the drums, and take B at the power of the part. Both are of one tone and its
    // odd harmonics, and K-weighting lifts those by a little: half a decibel of level.
    let power = |plane: &[f32]| plane.iter().map(|x| f64::from(x * x)).sum::<f64>();
    let (drums, a, b) = (drums(), guitar(20.0), guitar(2.0));
    let as_loud = (power(&a) / power(&b)).sqrt();
    let from = (json["passage"]["from_s"].as_f64().expect("s") * f64::from(RATE)).round() as usize;
    let file = Whole::read(&d.path().join("out").join(version["file"].as_str().expect("a file")));
    let heard = &file.expect("audio").planes[0];
    let fade = RATE as usize / 50;
    let within = fade..heard.len() - fade;
    // Two unknown gains, by least squares: the file's, and take B's in it.
    let dot = |x: &dyn Fn(usize) -> f64, y: &dyn Fn(usize) -> f64| -> f64 {
        within.clone().map(|n| x(n) * y(n)).sum()
    };
    let of = |plane: &[f32]| {
        let plane = plane.to_vec();
        move |n: usize| f64::from(plane[from + n])
    };
    let (drum, take) = (of(&drums), of(&b));
    let file = |n: usize| f64::from(heard[n]);
    let (dd, db_, bb) = (dot(&drum, &drum), dot(&drum, &take), dot(&take, &take));
    let (fd, fb) = (dot(&file, &drum), dot(&file, &take));
    let whole = dd * bb - db_ * db_;
    let (of_drums, of_take) = ((fd * bb - fb * db_) / whole, (fb * dd - fd * db_) / whole);
    let left = |n: usize| file(n) - of_drums * drum(n) - of_take * take(n);
    let left_db = 10.0 * (dot(&left, &left) / dot(&file, &file)).log10();
    let level_db = 20.0 * (of_take / of_drums / as_loud).log10();
    println!("left over {left_db:.1} dB, take B {level_db:+.2} dB against equal power");
    assert!(left_db < -50.0, "nothing else is in the file: {left_db:.1} dB");
    assert!(level_db.abs() < 0.5, "take B is as loud as the part: {level_db:+.2} dB");
}

#[test]
fn a_take_that_has_no_place_is_refused() {
    let d = directory();
    song(d.path());
    let path = |name: &str| d.path().join(name);
    let guitar = format!("--part=guitars={}", path_text(&path("a.wav")));
    write_wav(&path("short.wav"), &[vec![0.1; 10 * RATE as usize]], RATE, 32);
    write_wav(&path("still.wav"), &[vec![0.0; SONG_S * RATE as usize]], RATE, 32);
    let (b, short, still) = (path("b.wav"), path("short.wav"), path("still.wav"));
    let other = copy_of(&b, "other.wav");
    for (args, words) in [
        (vec!["--take-b", path_text(&b)], ["b.wav", "add --part guitars=FILE"]),
        (
            vec![&guitar, "--take-b", path_text(&b), "--take-b", path_text(&other)],
            ["other.wav", "1 given"],
        ),
        (vec![&guitar, "--take-b", path_text(&short)], ["short.wav", "10.000 s of audio"]),
        (vec![&guitar, "--take-b", path_text(&still)], ["still.wav", "silent"]),
    ] {
        let output = listen(d.path(), &args);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(words.iter().all(|word| said.contains(word)), "{args:?}: {said}");
        assert!(!path("out").exists(), "{args:?}");
    }
}

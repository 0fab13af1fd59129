//! `--edits`: the notes to move as CSV and as markers of a Standard MIDI File, and a session that reads
//! tight once they are moved.

use std::fs;
use std::path::{Path, PathBuf};

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use serde_json::Value;

use crate::support::{RATE, brunt, directory, path_text, text, write_wav};

const BEAT_S: f64 = 0.5;
const NOTES: usize = 30;

/// Decaying tones with a click each, one a beat from the first on, late by so many ms.
fn strokes(hz: f64, late_ms: &[f64]) -> Vec<f32> {
    let rate = f64::from(RATE);
    let mut plane = vec![0.0f32; ((NOTES + 2) as f64 * BEAT_S * rate) as usize];
    let mut random = Pcg64::seed_from_u64(1);
    for (note, late) in late_ms.iter().enumerate() {
        let at = (note + 1) as f64 * BEAT_S + late * 1e-3;
        let start = (at * rate).round() as usize;
        for n in 0..(0.3 * rate) as usize {
            let t = n as f64 / rate;
            let noise = random.random_range(-1.0..1.0);
            let tone = (std::f64::consts::TAU * hz * t).sin() * (-t / 0.06).exp();
            plane[start + n] += (0.3 * tone + 0.15 * noise * (-t / 0.008).exp()) as f32;
        }
    }
    plane
}

/// Errors of the notes, ms: 9 ms late as a whole, and up to 14 ms of looseness either way.
fn errors() -> Vec<f64> {
    let mut random = Pcg64::seed_from_u64(77);
    (0..NOTES).map(|_| 9.0 + random.random_range(-14.0..14.0)).collect()
}

fn wav(directory: &Path, name: &str, plane: &[f32]) -> PathBuf {
    let path = directory.join(name);
    write_wav(&path, &[plane.to_vec()], RATE, 24);
    path
}

fn run(args: &[&str]) -> Vec<u8> {
    let output = brunt().arg("check").args(args).output().expect("brunt runs");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    output.stdout
}

/// Time and move of each row, s and ms.
fn rows(csv: &str) -> Vec<(f64, f64)> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let names = reader.headers().expect("names").clone();
    let column = |name: &str| names.iter().position(|other| other == name).expect(name);
    let (time, moved) = (column("time_s"), column("move_ms"));
    let rows = reader.records().map(|row| row.expect("a row"));
    rows.map(|row| (row[time].parse().expect("s"), row[moved].parse().expect("ms"))).collect()
}

/// The plane with each note of the list moved: cut out from 20 ms ahead of it to 20 ms ahead of the
/// next beat's earliest, and put where it belongs.
fn moved(plane: &[f32], edits: &[(f64, f64)]) -> Vec<f32> {
    let frame = |s: f64| (s * f64::from(RATE)).round() as usize;
    let mut out = plane.to_vec();
    let pieces: Vec<(usize, Vec<f32>, i64)> = edits
        .iter()
        .map(|&(time_s, move_ms)| {
            let (from, to) = (frame(time_s - 0.02), frame(time_s + 0.4));
            let by = (move_ms * 1e-3 * f64::from(RATE)).round() as i64;
            (from, plane[from..to].to_vec(), by)
        })
        .collect();
    for (from, piece, _) in &pieces {
        out[*from..from + piece.len()].fill(0.0);
    }
    for (from, piece, by) in &pieces {
        let to = (*from as i64 + by) as usize;
        out[to..to + piece.len()].iter_mut().zip(piece).for_each(|(out, x)| *out += x);
    }
    out
}

fn read(parts: &[&str]) -> (f64, f64, Value) {
    let mut args = vec!["--json", "-"];
    args.extend(parts);
    let json: Value = serde_json::from_slice(&run(&args)).expect("JSON");
    let number = |name: &str| json["parts"][1][name].as_f64().expect(name);
    (number("offset_ms"), number("spread_ms"), json)
}

/// The errors are known: every note that lies more than 2 ms off is listed with its error (bar:
/// 1 ms), and the part reads tight once they are moved.
#[test]
fn moved_notes_read_tight() {
    let d = directory();
    let errors = errors();
    let drums = wav(d.path(), "drums.wav", &strokes(60.0, &[0.0; NOTES]));
    let plane = strokes(110.0, &errors);
    let bass = wav(d.path(), "bass.wav", &plane);
    let part = |role: &str, path: &Path| format!("--part={role}={}", path_text(path));
    let (drums, bass) = (part("drums", &drums), part("bass", &bass));
    let csv = String::from_utf8(run(&["--edits", "-", &drums, &bass])).expect("text");
    let edits = rows(&csv);
    for (note, error) in errors.iter().enumerate().filter(|(_, error)| error.abs() > 3.0) {
        let at = (note + 1) as f64 * BEAT_S + error * 1e-3;
        let edit = edits.iter().find(|(time_s, _)| (time_s - at).abs() < 0.01);
        let (_, move_ms) = edit.unwrap_or_else(|| panic!("note {note} is missing in\n{csv}"));
        assert!((move_ms + error).abs() < 1.0, "note {note}: {move_ms} ms for {error:.2} ms");
    }
    assert!(edits.len() <= NOTES, "{} edits", edits.len());
    let costs: Vec<f64> = csv::Reader::from_reader(csv.as_bytes())
        .records()
        .map(|row| row.expect("a row")[8].parse().expect("a cost"))
        .collect();
    assert!(costs.windows(2).all(|two| two[0] >= two[1]), "the dearest first: {costs:?}");

    let (offset, spread, json) = read(&[&drums, &bass]);
    let listed = json["timing"]["edits"].as_array().expect("edits");
    assert_eq!(listed.len(), edits.len());
    let tight = wav(d.path(), "moved.wav", &moved(&plane, &edits));
    let tight = part("bass", &tight);
    let (offset_then, spread_then, _) = read(&[&drums, &tight]);
    println!(
        "offset {offset:.1} ms, spread {spread:.1} ms; moved: {offset_then:.1} ms, {spread_then:.1} ms"
    );
    assert!(offset > 5.0 && spread > 5.0, "{offset:.1} and {spread:.1} ms to begin with");
    assert!(offset_then.abs() < 1.0 && spread_then < 2.0, "{offset_then:.1}, {spread_then:.1} ms");
}

/// Markers lie at the notes: the chunk is walked by the format's own rules (Standard MIDI Files 1.0,
/// RP-001).
#[test]
fn markers_lie_at_the_notes() {
    let d = directory();
    let errors = errors();
    let drums = wav(d.path(), "drums.wav", &strokes(60.0, &[0.0; NOTES]));
    let bass = wav(d.path(), "bass.wav", &strokes(110.0, &errors));
    let part = |role: &str, path: &Path| format!("--part={role}={}", path_text(path));
    let (csv, midi) = (d.path().join("edits.csv"), d.path().join("edits.mid"));
    run(&[
        &part("drums", &drums),
        &part("bass", &bass),
        "--quiet",
        "--bpm",
        "120",
        "--edits",
        path_text(&csv),
        "--edits",
        path_text(&midi),
    ]);
    let csv = fs::read_to_string(&csv).expect("written");
    let mut edits = rows(&csv);
    edits.sort_by(|a, b| a.0.total_cmp(&b.0));
    let markers = markers(&fs::read(&midi).expect("written"));
    assert_eq!(markers.len(), edits.len());
    for ((seconds, words), (time_s, move_ms)) in markers.iter().zip(&edits) {
        assert!((seconds - time_s).abs() < 0.5e-3, "{seconds} s for {time_s} s");
        let way = if *move_ms < 0.0 { "late" } else { "early" };
        assert!(words.contains("bass") && words.contains(way), "{words}");
    }
    // Bars of 2 s: the note of beat 5 lies in bar 2, if it is late.
    let second = csv::Reader::from_reader(csv.as_bytes())
        .records()
        .map(|row| row.expect("a row"))
        .find(|row| row[3].parse::<f64>().expect("s") > 8.0)
        .expect("a note past 8 s");
    assert!(second[4].parse::<i64>().expect("a bar") >= 4, "{second:?}");
}

/// Time and text of every marker of a file of one track with one tempo.
fn markers(bytes: &[u8]) -> Vec<(f64, String)> {
    assert_eq!((&bytes[..4], &bytes[14..18]), (&b"MThd"[..], &b"MTrk"[..]));
    let ticks = f64::from(u16::from_be_bytes([bytes[12], bytes[13]]));
    let (mut at, mut time, mut quarter_us) = (22, 0u32, 500_000.0);
    let mut found = Vec::new();
    let variable = |at: &mut usize| {
        let mut value = 0u32;
        loop {
            let byte = bytes[*at];
            *at += 1;
            value = value << 7 | u32::from(byte & 0x7f);
            if byte < 0x80 {
                return value;
            }
        }
    };
    while at < bytes.len() {
        time += variable(&mut at);
        assert_eq!(bytes[at], 0xff, "meta events alone");
        let kind = bytes[at + 1];
        at += 2;
        let length = variable(&mut at) as usize;
        let data = &bytes[at..at + length];
        at += length;
        match kind {
            0x51 => {
                quarter_us = data.iter().fold(0.0, |us, byte| us * 256.0 + f64::from(*byte));
            }
            0x06 => found.push((
                f64::from(time) / ticks * quarter_us * 1e-6,
                String::from_utf8_lossy(data).into_owned(),
            )),
            _ => {}
        }
    }
    found
}

#[test]
fn another_form_and_edits_without_parts_are_refused() {
    let d = directory();
    let drums = wav(d.path(), "drums.wav", &strokes(60.0, &[0.0; NOTES]));
    let part = format!("--part=drums={}", path_text(&drums));
    let target = d.path().join("edits.xls");
    let refused = |args: &[&str]| {
        let output = brunt().arg("check").args(args).output().expect("brunt runs");
        assert_eq!(output.status.code(), Some(2));
        text(&output.stderr)
    };
    let said = refused(&[&part, "--edits", path_text(&target)]);
    assert!(said.contains("edits.xls") && said.contains("FILE.csv or FILE.mid"), "{said}");
    let said = refused(&[path_text(&drums), "--edits", "e.csv"]);
    assert!(said.contains("--part"), "{said}");
    let said = refused(&[&part, "--edits", "e.csv", "--bpm", "0"]);
    assert!(said.contains("expected 20 to 1000"), "{said}");
    assert!(!target.exists());
}

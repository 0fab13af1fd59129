//! The reference file: what is read from it against the `ebur128` crate, and what is played of it
//! against a closed form.

use std::path::Path;
use std::time::{Duration, Instant};

use brunt::reference::{Progress, Shelf, Shown};

use crate::rig::{RATE_HZ, integrated, limited, song};

/// Longest wait for a load; the files here take some milliseconds.
const PATIENCE: Duration = Duration::from_secs(60);

fn write(path: &Path, channels: &[Vec<f32>], rate_hz: u32) {
    let spec = hound::WavSpec {
        channels: channels.len() as u16,
        sample_rate: rate_hz,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("creates");
    for frame in 0..channels[0].len() {
        for channel in channels {
            writer.write_sample(channel[frame]).expect("writes");
        }
    }
    writer.finalize().expect("closes");
}

fn settled(shelf: &Shelf) -> Shown {
    let start = Instant::now();
    loop {
        let shown = shelf.shown();
        if shown.progress != Progress::Loading {
            return shown;
        }
        assert!(start.elapsed() < PATIENCE, "still loading");
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn a_file_is_measured_as_a_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a reference.wav");
    let audio = limited(&song(9.0, 50), -3.0, 0.7);
    write(&path, &audio, 48_000);
    let shelf = Shelf::default();
    shelf.load(&path.to_string_lossy());
    let Progress::Ready(readings) = settled(&shelf).progress else { panic!("{:?}", shelf.shown()) };
    let got = readings.loudness.integrated_lufs.expect("loud");
    assert!((got - integrated(&audio)).abs() < 0.02, "{got}");
    assert!(readings.punch.contrast_db.is_some(), "hits are measured, too");
    shelf.load("");
    assert_eq!(settled(&shelf), Shown::default());
}

#[test]
fn a_file_of_another_rate_plays_at_the_hosts() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("tone.wav");
    let tone = |n: usize, rate_hz: f64| {
        (0.25 * (std::f64::consts::TAU * 441.0 * n as f64 / rate_hz).sin()) as f32
    };
    write(&path, &[(0..88_200).map(|n| tone(n, 44_100.0)).collect()], 44_100);
    let shelf = Shelf::default();
    let mut deck = shelf.deck();
    deck.activate(480, 2);
    // Before the host's rate is known it is only measured.
    shelf.load(&path.to_string_lossy());
    assert!(matches!(settled(&shelf).progress, Progress::Ready(_)));
    deck.poll();
    assert!(deck.next(480, true).is_none());
    shelf.set_rate(RATE_HZ);
    assert!(matches!(settled(&shelf).progress, Progress::Ready(_)));
    let mut played = vec![Vec::new(); 2];
    let start = Instant::now();
    while played[0].len() < 96_000 {
        deck.poll();
        match deck.next(480, true) {
            Some(block) => {
                for (all, part) in played.iter_mut().zip(block) {
                    all.extend_from_slice(part);
                }
            }
            None => assert!(start.elapsed() < PATIENCE, "nothing to play"),
        }
    }
    assert_eq!(played[0], played[1], "mono is on both sides");
    let worst =
        (4_800..91_200).map(|n| (played[0][n] - tone(n, RATE_HZ)).abs()).fold(0.0, f32::max);
    assert!(worst < 5e-4, "{worst}");
    assert!(played[0][95_999].abs() < 0.01, "faded at its end");
}

#[test]
fn what_cannot_be_used_is_told_with_its_name_and_the_path_is_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = folder.path().join("words.wav");
    std::fs::write(&text, "no sound").expect("writes");
    let silent = folder.path().join("silent.wav");
    write(&silent, &[vec![0.0; 48_000]], 48_000);
    let gone = folder.path().join("gone.wav");
    let low = folder.path().join("low.wav");
    write(&low, &[vec![0.25; 44_100]], 22_050);
    for (path, expected) in [
        (low.as_path(), "22050 Hz, too low to compare with a mix at 48000 Hz; expected 36000 Hz"),
        (gone.as_path(), "no such file"),
        (text.as_path(), "expected"),
        (folder.path(), "a folder; expected"),
        (silent.as_path(), "silent, nothing above"),
    ] {
        let shelf = Shelf::default();
        shelf.set_rate(RATE_HZ);
        let path = path.to_string_lossy();
        shelf.load(&path);
        let shown = settled(&shelf);
        let Progress::Failed(reason) = &shown.progress else { panic!("{path}: {shown:?}") };
        assert!(reason.contains(&*path) && reason.contains(expected), "{reason}");
        assert_eq!(reason.lines().count(), 1, "{reason}");
        assert_eq!(shown.path, path);
    }
}

#[test]
fn a_new_choice_overtakes_an_old_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = folder.path().join("long.wav");
    let short = folder.path().join("short.wav");
    write(&long, &vec![vec![0.25; 3_000_000]; 2], 48_000);
    write(&short, &limited(&song(2.0, 51), 0.0, 1.0), 48_000);
    for _ in 0..20 {
        let shelf = Shelf::default();
        shelf.set_rate(RATE_HZ);
        let mut deck = shelf.deck();
        deck.activate(64, 2);
        shelf.load(&long.to_string_lossy());
        std::thread::sleep(Duration::from_micros(300));
        shelf.load(&short.to_string_lossy());
        let shown = settled(&shelf);
        assert_eq!(shown.path, short.to_string_lossy());
        assert!(matches!(shown.progress, Progress::Ready(_)));
        let start = Instant::now();
        // Everything under way is taken; what is left is the last choice.
        for _ in 0..8 {
            deck.poll();
        }
        let first = deck.next(64, true).map(|block| block[0][63]);
        assert!(first.is_some_and(|x| x.abs() < 0.2), "{first:?} after {:?}", start.elapsed());
    }
}

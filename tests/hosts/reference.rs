//! A reference file in the built plug-in: named by the saved state, played in place of the
//! side-chain, and no harm where it is gone.

use std::path::Path;
use std::time::Duration;

use brunt_host::transport::Tempo;
use brunt_host::{Block, Instance, SavedState, Side};
use serde_json::json;

use crate::material::{beat, first_difference, instance};

const RATE_HZ: f64 = 48_000.0;
const FRAMES: usize = 480;

/// A session with that reference, and the side-chain's role set to it.
fn session(path: &Path) -> Vec<u8> {
    let mut plugin = instance();
    let role = plugin.parameter("Side-chain role").expect("there");
    plugin.set(&role, 2.0).expect("sets");
    let mut json = plugin.save().expect("saves").json().expect("reads");
    json["fields"]["reference"] = json!(json!(path.to_string_lossy()).to_string());
    SavedState::from_json(&json).bytes
}

fn play(plugin: &mut Instance, main: &[Vec<f32>], listen: f64) -> Vec<Vec<f32>> {
    let listen = plugin.parameter("Listen").expect("there").event(listen);
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    // The file is read beside the audio; here it has the time for it.
    std::thread::sleep(Duration::from_secs(3));
    let tempo = Tempo { bpm: 120.0, signature: (4, 4) };
    let mut output = vec![Vec::new(); main.len()];
    for at in (0..main[0].len()).step_by(FRAMES) {
        let block: Vec<&[f32]> = main.iter().map(|c| &c[at..at + FRAMES]).collect();
        let transport = tempo.at(at as f64 / RATE_HZ, true);
        let changes = [listen];
        let block = Block {
            main: &block,
            side: Side::Missing,
            transport: Some(&transport),
            changes: &changes,
            ..Block::default()
        };
        let (_, out) = audio.process(&block).expect("processes");
        for (all, part) in output.iter_mut().zip(out) {
            all.extend_from_slice(part);
        }
    }
    plugin.deactivate(audio);
    output
}

/// A file of that audio times `gain`.
fn file(path: &Path, audio: &[Vec<f32>], gain: f32) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("creates");
    for frame in 0..audio[0].len() {
        for channel in audio {
            writer.write_sample(channel[frame] * gain).expect("writes");
        }
    }
    writer.finalize().expect("closes");
}

/// The beat 6 dB down.
fn song() -> Vec<Vec<f32>> {
    beat(RATE_HZ, 8.0, 2).iter().map(|c| c.iter().map(|x| x * 0.5).collect()).collect()
}

#[test]
fn it_is_heard_in_place_of_the_side_chain() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("reference.wav");
    // The mix turned over and 6 dB down: heard at the mix's loudness, the mix turned over.
    let main = song();
    file(&path, &main, -0.5);
    let mut plugin = instance();
    plugin.restore(&session(&path)).expect("loads");
    let out = play(&mut plugin, &main, 1.0);
    // When it begins depends on the disk, and both repeat every half second: compared is the
    // level, from the fifth second on, when the match is there.
    let rms = |c: &[f32]| c[5 * 48_000..].iter().map(|x| f64::from(*x).powi(2)).sum::<f64>();
    let error = 10.0 * (rms(&out[0]) / rms(&main[0])).log10();
    assert!(error.abs() < 0.3, "{error:+.2} dB");
    assert!(first_difference(&main, &out).is_some());
    // The mix itself is never touched by it.
    assert_eq!(first_difference(&main, &play(&mut plugin, &main, 0.0)), None);
    let saved = plugin.save().expect("saves").field("reference").expect("there");
    assert_eq!(saved, json!(path.to_string_lossy()));
}

/// One after another, 6.02 and 18.06 dB under the mix: the second reads as it does alone.
#[test]
fn another_reference_is_compared_by_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let main = song();
    let mut plugin = instance();
    for (name, gain, under_db) in [("a.wav", 0.5, 6.0206), ("b.wav", 0.125, 18.0618)] {
        let path = folder.path().join(name);
        file(&path, &main, gain);
        plugin.restore(&session(&path)).expect("loads");
        play(&mut plugin, &main, 0.0);
        let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
        let compare = report.compare.expect("compared");
        let got = compare.loudness_difference_lu.expect("loud");
        // The file starts a block or two late, so the gating cuts its beats elsewhere than the mix's.
        assert!((got - under_db).abs() < 1.5, "{name}: {got} LU for {under_db}");
    }
}

#[test]
fn a_file_that_is_gone_keeps_its_path_and_leaves_the_mix() {
    let path = Path::new("no-such-folder/no-such-file.wav");
    let mut plugin = instance();
    plugin.restore(&session(path)).expect("loads");
    let main = beat(RATE_HZ, 1.0, 2);
    assert_eq!(first_difference(&main, &play(&mut plugin, &main, 0.0)), None);
    let saved = plugin.save().expect("saves").field("reference").expect("there");
    assert_eq!(saved, json!(path.to_string_lossy()));
}

//! Writes the corpus to a folder: `corpus beats DIR`.

use brunt_tests::corpus::mix::{Clip, Library};
use brunt_tests::corpus::truth::Truth;
use brunt_tests::corpus::{CorpusError, Stereo, drums::Drum, kits, mix, songs};
use brunt_tests::corpus::{audio::db, player::Instrument};
use serde_json::{Value, json};
use std::path::Path;
use std::process::ExitCode;

const RATE: u32 = 48_000;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let result = match args.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["beats", dir] => beats(Path::new(dir)),
        _ => {
            eprintln!("usage: corpus beats DIR");
            return ExitCode::from(2);
        }
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

/// One-shots each second, drum-only beats, full mixes: a WAV and a truth file each.
fn beats(dir: &Path) -> Result<(), CorpusError> {
    std::fs::create_dir_all(dir).map_err(|e| CorpusError::file(dir, e))?;
    let mut library = Library::default();
    for name in kits::NAMES {
        let Some(kit) = kits::kit(name) else { continue };
        let mut audio = Stereo::silence(RATE, 0);
        let mut truth = Vec::new();
        for (drum, _) in &kit.pieces {
            for velocity in [1.0, 0.5] {
                let clip = library.drum(&kit, *drum, velocity, RATE)?;
                let frame = audio.len() + RATE as usize / 10;
                audio.left.resize(audio.len() + RATE as usize, 0.0);
                audio.right.resize(audio.left.len(), 0.0);
                place(&mut audio, &clip, frame, drum.level_db() - 6.0 + 20.0 * velocity.log10());
                truth.push(one_shot(*drum, velocity, frame, &clip));
            }
        }
        write(dir, &format!("oneshots-{name}"), &audio, &truth)?;
    }
    for song in songs::ALL {
        let mix = mix::render(song, RATE, &mut library)?;
        let drums: Vec<Truth> = mix
            .truth
            .iter()
            .filter(|t| matches!(t.instrument, Instrument::Drum(_)))
            .cloned()
            .collect();
        write(dir, &format!("drums-{}", song.name), &mix.buses["drums"], &drums)?;
        write(dir, &format!("mix-{}", song.name), &mix.audio, &mix.truth)?;
    }
    Ok(())
}

/// Puts a clip so that its onset is at `frame`, cut and faded to end within its second.
fn place(audio: &mut Stereo, clip: &Clip, frame: usize, level_db: f64) {
    let mut clip = clip.clone();
    let room = (clip.onset + RATE as usize * 8 / 10).min(clip.audio.len());
    clip.audio.left.truncate(room);
    clip.audio.right.truncate(room);
    let fade = room.min(RATE as usize / 5);
    for i in 0..fade {
        let ramp = i as f32 / fade as f32;
        clip.audio.left[room - 1 - i] *= ramp;
        clip.audio.right[room - 1 - i] *= ramp;
    }
    audio.add(&clip.audio, frame as i64 - clip.onset as i64, db(level_db), db(level_db));
}

fn one_shot(drum: Drum, velocity: f64, frame: usize, clip: &Clip) -> Truth {
    let late = clip.onset_20 - clip.onset;
    Truth {
        instrument: Instrument::Drum(drum),
        time_s: frame as f64 / f64::from(RATE),
        time_20_s: (frame + late) as f64 / f64::from(RATE),
        velocity,
        peak_dbfs: None,
        rise_db: None,
        rise_bright_db: None,
    }
}

fn write(dir: &Path, name: &str, audio: &Stereo, truth: &[Truth]) -> Result<(), CorpusError> {
    audio.write(&dir.join(format!("{name}.wav")))?;
    let events: Vec<Value> = truth
        .iter()
        .map(|t| {
            json!({
                "instrument": t.instrument.name(), "time_s": t.time_s, "time_20_s": t.time_20_s,
                "velocity": t.velocity, "peak_dbfs": t.peak_dbfs, "rise_db": t.rise_db,
                "rise_bright_db": t.rise_bright_db,
            })
        })
        .collect();
    let path = dir.join(format!("{name}.json"));
    let text = format!("{:#}\n", json!({ "file": format!("{name}.wav"), "events": events }));
    std::fs::write(&path, text).map_err(|e| CorpusError::file(path, e))
}

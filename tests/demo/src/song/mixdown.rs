//! The desk: each part to its level, place and tone; the mix bus.

use brunt_engine::parts::PartRole;
use rayon::prelude::*;

use super::feel::{Feel, Player, habit, length_s};
use super::filter::Biquad;
use super::score::{self, Note, Touch};
use super::stereo::Stereo;
use super::strings::{Pluck, hz, pluck};
use super::{SAMPLE_RATE_HZ, Stem, Version, amp, db, drums, frames, layers, pad, voice};

/// Integrated loudness of every version ahead of a limiter, LUFS.
const LOUDNESS_LUFS: f64 = -15.0;
/// Largest true peak of a version without a limiter, dBTP: it is turned down further if need be.
const HIGHEST_DBTP: f64 = -0.5;
/// The guitar amplifiers' gain, dB.
const GAIN_DB: f64 = 8.0;
/// The same where the guitarists found the knob, dB.
const DRIVEN_DB: f64 = 34.0;

/// All parts of a version at their levels.
pub fn stems(version: Version) -> Vec<Stem> {
    let mut parts: Vec<(PartRole, &'static str, f64, Job)> = vec![
        (PartRole::Drums, "drums", -19.8, Box::new(drums::kit)),
        (PartRole::Bass, "bass", -23.0, Box::new(move || bass(version))),
        (
            PartRole::Guitars,
            "guitar left",
            -25.0,
            Box::new(move || guitar(version, Player::LeftGuitar)),
        ),
        (
            PartRole::Guitars,
            "guitar right",
            -25.0,
            Box::new(move || guitar(version, Player::RightGuitar)),
        ),
        (PartRole::Vocals, "lead", -24.4, Box::new(voice::lead)),
        (PartRole::Other, "pad", -33.0, Box::new(pad::pad)),
    ];
    if version == Version::Clutter {
        parts.extend([
            (PartRole::Other, "arpeggio", -25.0, Box::new(layers::arpeggio) as Job),
            (PartRole::Other, "shaker", -33.0, Box::new(layers::shaker)),
            (PartRole::Other, "strings", -26.0, Box::new(layers::strings)),
            (PartRole::Other, "organ", -28.0, Box::new(layers::organ)),
        ]);
    }
    parts
        .into_par_iter()
        .map(|(role, name, level_db, play)| {
            let mut audio = play();
            let gain = db(level_db - audio.playing_db());
            audio.scale(gain);
            Stem { role, name, audio }
        })
        .collect()
}

type Job = Box<dyn Fn() -> Stereo + Send + Sync>;

/// The parts' sum.
pub fn sum(stems: &[Stem]) -> Stereo {
    let mut mix = Stereo::silent();
    for stem in stems {
        mix.add(&stem.audio);
    }
    mix
}

/// What makes a mix look impressive and sound small: shelves at both ends, a hole in the middle.
pub fn scoop(mix: &mut Stereo) {
    for channel in [&mut mix.left, &mut mix.right] {
        Biquad::low_shelf(60.0, 5.0).run_f32(channel);
        Biquad::high_shelf(12_000.0, 6.0).run_f32(channel);
        Biquad::bell(700.0, 0.5, -6.0).run_f32(channel);
    }
}

/// Brings a mix to the session's loudness without touching its shape; gives the gain.
pub fn level(mix: &mut Stereo) -> f64 {
    let (loudness_lufs, peak_dbtp) = measure(mix);
    let gain = db((LOUDNESS_LUFS - loudness_lufs).min(HIGHEST_DBTP - peak_dbtp));
    mix.scale(gain);
    gain
}

/// Integrated loudness, LUFS, and largest true peak, dBTP. Measured with a library from outside
/// the project: the session must not depend on what it is to show.
fn measure(mix: &Stereo) -> (f64, f64) {
    let modes = ebur128::Mode::I | ebur128::Mode::TRUE_PEAK;
    let mut meter = ebur128::EbuR128::new(2, SAMPLE_RATE_HZ, modes).expect("two channels, 48 kHz");
    meter.add_frames_planar_f32(&[&mix.left, &mix.right]).expect("two channels of one length");
    let peak = (0..2).map(|channel| meter.true_peak(channel).expect("the mode is on"));
    (meter.loudness_global().expect("the mode is on"), 20.0 * peak.fold(1e-10, f64::max).log10())
}

fn bass(version: Version) -> Stereo {
    let mut sound = Stereo::silent();
    let habit = habit(Player::Bass, version);
    let mut feel = Feel::new(0xba55, habit.offset_ms, habit.spread_ms);
    let mut line = vec![0.0; sound.len()];
    for note in score::bass() {
        let how = Pluck {
            hz: hz(note.pitch),
            length_s: length_s(note.length) * 0.93,
            decay_s: 3.2,
            bright: 0.55,
            place: 0.17,
            pick_hz: 2600.0,
        };
        strike(&mut line, &note, &how, &mut feel);
    }
    Biquad::high_pass(32.0, 0.7).run(&mut line);
    amp::oversampled(&mut line, |x| (1.6 * x).tanh() / 1.6);
    Biquad::bell(90.0, 0.7, 1.5).run(&mut line);
    Biquad::bell(850.0, 0.8, 3.0).run(&mut line);
    Biquad::low_pass(3800.0, 0.7).run(&mut line);
    sound.place(&line, 0, 0.0, 1.0);
    sound
}

/// One of two guitars, hard to its side: the same chords played twice, not one copied.
fn guitar(version: Version, player: Player) -> Stereo {
    let left = matches!(player, Player::LeftGuitar);
    let mut sound = Stereo::silent();
    let habit = habit(player, version);
    let seed = if left { 0x1ef7 } else { 0x4164 };
    let mut feel = Feel::new(seed, habit.offset_ms, habit.spread_ms);
    let mut line = vec![0.0; sound.len()];
    // Root, fifth and octave; the second guitar is a hair out of tune with the first.
    let detune = if left { -0.02 } else { 0.03 };
    for note in score::guitar() {
        let at = feel.at_s(note.step);
        for (string, interval) in [0.0, 7.0, 12.0].into_iter().enumerate() {
            let muted = note.touch == Touch::Muted;
            let how = Pluck {
                hz: hz(note.pitch + interval + detune + 0.015 * feel.noise()),
                length_s: length_s(note.length) * 0.95,
                decay_s: if muted { 0.35 } else { 2.6 },
                bright: if muted { 0.35 } else { 0.7 },
                place: 0.12,
                pick_hz: if muted { 2200.0 } else { 4200.0 },
            };
            let struck = Note { level_db: note.level_db + 0.7 * feel.normal(), ..note };
            let sweep_s = 0.0012 * string as f64;
            add(&mut line, &pluck(&how, &mut feel), at + sweep_s, struck.level_db);
        }
    }
    amp::play(&mut line, if version == Version::Drive { DRIVEN_DB } else { GAIN_DB });
    sound.place(&line, 0, if left { -1.0 } else { 1.0 }, 1.0);
    sound
}

fn strike(line: &mut [f64], note: &Note, how: &Pluck, feel: &mut Feel) {
    let at = feel.at_s(note.step);
    let level_db = note.level_db + 0.7 * feel.normal();
    add(line, &pluck(how, feel), at, level_db);
}

fn add(line: &mut [f64], sound: &[f64], at_s: f64, level_db: f64) {
    let gain = db(level_db) * 0.25;
    for (sum, sample) in line.iter_mut().skip(frames(at_s)).zip(sound) {
        *sum += sample * gain;
    }
}

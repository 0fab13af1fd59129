//! The lead: a buzz like that of vocal folds through the resonances of five vowels.

use std::f64::consts::TAU;

use super::feel::{Feel, length_s};
use super::room::{Room, reverb};
use super::score::{self, Sung};
use super::stereo::Stereo;
use super::strings::hz;
use super::{SAMPLE_RATE_HZ, db, frames};

/// First three formants of a vowel, Hz: those of a tenor in the Csound reference manual's table.
fn formants(vowel: char) -> [f64; 3] {
    match vowel {
        'a' => [650.0, 1080.0, 2650.0],
        'e' => [400.0, 1700.0, 2600.0],
        'i' => [290.0, 1870.0, 2800.0],
        'o' => [400.0, 800.0, 2600.0],
        _ => [350.0, 600.0, 2700.0],
    }
}

const BANDWIDTHS_HZ: [f64; 5] = [80.0, 95.0, 130.0, 160.0, 200.0];
const LEVELS_DB: [f64; 5] = [0.0, -5.0, -9.0, -10.0, -16.0];

/// The whole melody, with a hall of its own.
pub fn lead() -> Stereo {
    let mut dry = Stereo::silent();
    let mut feel = Feel::new(0x1ead, 4.0, 5.0);
    let mut before = None;
    for sung in score::lead() {
        let at = feel.at_s(sung.note.step);
        // A voice glides from the last note only where it does not breathe between.
        let from = before
            .filter(|(end, _): &(f64, f64)| (sung.note.step - end).abs() < 0.01)
            .map_or(sung.note.pitch - 1.0, |(_, pitch)| pitch);
        let sound = sing(&sung, from, &mut feel);
        dry.place(&sound, frames(at), 0.0, 1.0);
        before = Some((sung.note.step + sung.note.length, sung.note.pitch));
    }
    let mut hall = reverb(&dry, &Room { decay_s: 1.5, delay_s: 0.035, bright_hz: 4200.0 });
    hall.scale(db(-22.0));
    dry.add(&hall);
    dry
}

fn sing(sung: &Sung, from_pitch: f64, feel: &mut Feel) -> Vec<f64> {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let length_s = length_s(sung.note.length) * 0.96;
    let [f1, f2, f3] = formants(sung.vowel);
    let centres = [f1, f2, f3, 3400.0, 4700.0];
    let mut throat: Vec<Resonance> = centres
        .iter()
        .zip(BANDWIDTHS_HZ)
        .zip(LEVELS_DB)
        .map(|((hz, bandwidth), level)| Resonance::new(*hz, bandwidth, db(level)))
        .collect();
    let mut phase = 0.0;
    let mut tilt = 0.0;
    (0..frames(length_s))
        .map(|frame| {
            let t = frame as f64 / rate;
            let glide = (-t / 0.045).exp();
            let vibrato = 0.28 * ((t - 0.22) / 0.25).clamp(0.0, 1.0) * (TAU * 5.4 * t).sin();
            let pitch = sung.note.pitch + (from_pitch - sung.note.pitch) * glide + vibrato;
            let step = hz(pitch) / rate;
            phase = (phase + step) % 1.0;
            // The folds: a saw, its corner rounded, some breath where they are open.
            let breath = 0.10 * feel.noise() * phase;
            let folds = saw(phase, step) + breath;
            tilt += 0.35 * (folds - tilt);
            let envelope = (1.0 - (-t / 0.03).exp())
                * ((length_s - t) / 0.07).clamp(0.0, 1.0)
                * (0.72 + 0.28 * (-t / 0.25).exp());
            throat.iter_mut().map(|resonance| resonance.next(tilt)).sum::<f64>() * envelope
        })
        .collect()
}

/// A falling saw without the worst of its aliases: the jump is rounded over two samples.
pub fn saw(phase: f64, step: f64) -> f64 {
    let round = if phase < step {
        let x = phase / step;
        x + x - x * x - 1.0
    } else if phase > 1.0 - step {
        let x = (phase - 1.0) / step;
        x * x + x + x + 1.0
    } else {
        0.0
    };
    2.0 * phase - 1.0 - round
}

/// A resonance of two poles, 0 dB at its peak.
struct Resonance {
    a1: f64,
    a2: f64,
    gain: f64,
    y: [f64; 2],
    x: [f64; 2],
}

impl Resonance {
    fn new(hz: f64, bandwidth_hz: f64, level: f64) -> Self {
        let rate = f64::from(SAMPLE_RATE_HZ);
        let radius = (-std::f64::consts::PI * bandwidth_hz / rate).exp();
        Self {
            a1: 2.0 * radius * (TAU * hz / rate).cos(),
            a2: -radius * radius,
            gain: level * (1.0 - radius * radius) / 2.0,
            y: [0.0; 2],
            x: [0.0; 2],
        }
    }

    fn next(&mut self, x: f64) -> f64 {
        let y = self.gain * (x - self.x[1]) + self.a1 * self.y[0] + self.a2 * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

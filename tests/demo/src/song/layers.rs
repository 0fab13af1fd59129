//! What the cluttered version adds: rhythms of their own, and layers without any.

use super::feel::{Feel, at_s, length_s};
use super::filter::Biquad;
use super::pad::{Keys, chords};
use super::score::{self, BAR};
use super::stereo::Stereo;
use super::strings::{Pluck, hz, pluck};
use super::{SAMPLE_RATE_HZ, frames};

/// A picked guitar that counts in three sixteenths against the band's four.
pub fn arpeggio() -> Stereo {
    let mut sound = Stereo::silent();
    let mut feel = Feel::new(0xa_2be6, 0.0, 4.0);
    for (bar, chord) in score::chords() {
        for count in 0..11 {
            // Three against four, and off the sixteenths: between the band's hits as a rule.
            let step = bar + 0.5 + 1.5 * f64::from(count);
            let pitch = chord[count as usize % 3] + if count % 4 == 3 { 12.0 } else { 0.0 };
            let how = Pluck {
                hz: hz(pitch),
                length_s: length_s(3.0),
                decay_s: 1.6,
                bright: 0.75,
                place: 0.13,
                pick_hz: 5200.0,
            };
            let note = pluck(&how, &mut feel);
            sound.place(&note, frames(feel.at_s(step)), 0.55, 1.0);
        }
    }
    sound
}

/// A shaker in straight sixteenths, half of one late.
pub fn shaker() -> Stereo {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let mut sound = Stereo::silent();
    let mut feel = Feel::new(0x5ba4e, 0.0, 6.0);
    for step in 0..(16 * BAR as usize) {
        let mut grain: Vec<f64> = (0..frames(0.11))
            .map(|frame| {
                let t = frame as f64 / rate;
                feel.noise() * (t / 0.018).min(1.0) * (-t / 0.035).exp()
            })
            .collect();
        Biquad::band_pass(5200.0, 0.8).run(&mut grain);
        sound.place(&grain, frames(feel.at_s(step as f64 + 0.5)), -0.6, 1.0);
    }
    sound
}

/// Strings from the first bar to the last, in the register of the guitars.
pub fn strings() -> Stereo {
    chords(&Keys { from_step: 0.0, shift: 0.0, attack_s: 0.12, bright_hz: 3200.0, seed: 0x57 })
}

/// An organ an octave up that never lets go.
pub fn organ() -> Stereo {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let mut sound = Stereo::silent();
    let end = at_s(16.0 * BAR);
    let mut phase = [0.0_f64; 5];
    let voice: Vec<f64> = (0..frames(end))
        .map(|frame| {
            let t = frame as f64 / rate;
            // E and B belong to every chord of this song, or rub against it as an organist likes.
            let tones = [52.0, 59.0, 64.0, 71.0, 76.0];
            tones
                .iter()
                .zip(&mut phase)
                .map(|(pitch, phase)| {
                    *phase += std::f64::consts::TAU * hz(*pitch) / rate;
                    0.2 * (phase.sin() + 0.4 * (2.0 * *phase).sin() + 0.3 * (3.0 * *phase).sin())
                })
                .sum::<f64>()
                * (1.0 + 0.12 * (std::f64::consts::TAU * 6.1 * t).sin())
                * (t / 0.5).min(1.0)
                * ((end - t) / 0.3).clamp(0.0, 1.0)
        })
        .collect();
    sound.place(&voice, 0, -0.2, 1.0);
    sound
}

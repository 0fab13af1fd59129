//! Sustained keys: detuned saws, wide and dull.

use super::feel::{Feel, at_s, length_s};
use super::filter::Biquad;
use super::room::{Room, reverb};
use super::score::{self, BAR, CHORUS};
use super::stereo::Stereo;
use super::strings::hz;
use super::voice::saw;
use super::{SAMPLE_RATE_HZ, db, frames};

/// How the keys are set.
pub struct Keys {
    /// First sixteenth at which they play.
    pub from_step: f64,
    /// Semitones from the middle register.
    pub shift: f64,
    /// Time to full level, s.
    pub attack_s: f64,
    /// Corner of their low-pass, Hz.
    pub bright_hz: f64,
    /// Seed of their detuning.
    pub seed: u64,
}

/// The song's own pad: in the chorus, behind everything.
pub fn pad() -> Stereo {
    let keys =
        Keys { from_step: CHORUS, shift: 0.0, attack_s: 0.25, bright_hz: 1500.0, seed: 0x9ad };
    let mut sound = chords(&keys);
    let mut hall = reverb(&sound, &Room { decay_s: 1.8, delay_s: 0.02, bright_hz: 3500.0 });
    hall.scale(db(-16.0));
    sound.add(&hall);
    sound
}

/// Every chord of the song from a place on, held for its bar.
pub fn chords(keys: &Keys) -> Stereo {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let mut sound = Stereo::silent();
    let mut feel = Feel::new(keys.seed, 0.0, 3.0);
    for (step, chord) in score::chords() {
        if step < keys.from_step {
            continue;
        }
        let at = at_s(step);
        let length_s = length_s(BAR) + 0.15;
        for pitch in chord {
            for pan in [-0.8, 0.8] {
                let hz = hz(pitch + keys.shift + 0.06 * feel.noise());
                let step = hz / rate;
                let mut phase = feel.noise().abs();
                let mut voice: Vec<f64> = (0..frames(length_s))
                    .map(|frame| {
                        let t = frame as f64 / rate;
                        phase = (phase + step) % 1.0;
                        let envelope =
                            (t / keys.attack_s).min(1.0) * ((length_s - t) / 0.2).clamp(0.0, 1.0);
                        saw(phase, step) * envelope * 0.2
                    })
                    .collect();
                Biquad::low_pass(keys.bright_hz, 0.7).run(&mut voice);
                Biquad::high_pass(180.0, 0.7).run(&mut voice);
                sound.place(&voice, frames(at), pan, 1.0);
            }
        }
    }
    sound
}

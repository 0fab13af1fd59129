//! A room: eight delay lines that feed each other through a lossless mixing matrix.

use std::f64::consts::PI;

use super::stereo::Stereo;
use super::{SAMPLE_RATE_HZ, frames};

/// What the room is like.
pub struct Room {
    /// Time in which it fades by 60 dB, s.
    pub decay_s: f64,
    /// Time until its first answer, s.
    pub delay_s: f64,
    /// Corner above which its walls swallow, Hz.
    pub bright_hz: f64,
}

/// Delays, ms: without common divisors, so that no tone stands out.
const DELAYS_MS: [f64; 8] = [11.3, 13.7, 17.9, 19.3, 23.1, 26.9, 31.7, 37.3];

/// The room's answer alone. Bass is kept out of it, as is the custom on a desk.
pub fn reverb(dry: &Stereo, room: &Room) -> Stereo {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let mut wet = Stereo::silent();
    let mut lines: Vec<Vec<f64>> =
        DELAYS_MS.iter().map(|ms| vec![0.0; frames(ms / 1000.0)]).collect();
    let mut at = [0_usize; 8];
    let mut dull = [0.0_f64; 8];
    let keep = DELAYS_MS.map(|ms| 10_f64.powf(-3.0 * ms / 1000.0 / room.decay_s));
    let smooth = 1.0 - (-2.0 * PI * room.bright_hz / rate).exp();
    let cut = 1.0 - (-2.0 * PI * 180.0 / rate).exp();
    let mut low = [0.0_f64; 2];
    let pre = frames(room.delay_s);
    for frame in 0..dry.len() {
        let mut input = [0.0; 2];
        if frame >= pre {
            input = [f64::from(dry.left[frame - pre]), f64::from(dry.right[frame - pre])];
        }
        for (low, input) in low.iter_mut().zip(&mut input) {
            *low += cut * (*input - *low);
            *input -= *low;
        }
        let mut heads = [0.0; 8];
        for line in 0..8 {
            dull[line] += smooth * (lines[line][at[line]] - dull[line]);
            heads[line] = dull[line] * keep[line];
        }
        wet.left[frame] = (heads[0] - heads[2] + heads[4] - heads[6]) as f32;
        wet.right[frame] = (heads[1] - heads[3] + heads[5] - heads[7]) as f32;
        // Householder's matrix: every line hears all lines, and no energy is made.
        let share = heads.iter().sum::<f64>() * 0.25;
        for line in 0..8 {
            lines[line][at[line]] = heads[line] - share + input[line % 2];
            at[line] = (at[line] + 1) % lines[line].len();
        }
    }
    wet
}

//! Plucked strings after Karplus and Strong: a delay line whose content fades and dulls as it
//! goes round.

use super::feel::Feel;
use super::filter::Biquad;
use super::{SAMPLE_RATE_HZ, frames};

/// How a string is plucked.
#[derive(Clone, Copy)]
pub struct Pluck {
    /// Pitch, Hz.
    pub hz: f64,
    /// Time until the player stops it, s.
    pub length_s: f64,
    /// Time in which it would fade by 60 dB, s.
    pub decay_s: f64,
    /// How bright it stays, 0 to 1: what of the highest tones is left on each round.
    pub bright: f64,
    /// Where it is plucked, a share of its length.
    pub place: f64,
    /// Corner of the pick, Hz: a hard pick is high.
    pub pick_hz: f64,
}

/// One note, from its attack to its stop and 40 ms of fade.
pub fn pluck(how: &Pluck, feel: &mut Feel) -> Vec<f64> {
    let rate = f64::from(SAMPLE_RATE_HZ);
    let fade = frames(0.04);
    let length = frames(how.length_s) + fade;
    // The loop's filter (1-s) x + s x' delays by s samples at low tones.
    let s = 0.5 * (1.0 - how.bright);
    let period = rate / how.hz - s;
    let whole = period.floor() as usize;
    let part = period - whole as f64;
    let mut line = excite(whole.max(2) + 1, how, feel);
    let loss = 10_f64.powf(-3.0 / (how.decay_s * how.hz));
    let mut sound = vec![0.0; length];
    let mut at = 0;
    let mut last = 0.0;
    for sample in &mut sound {
        let next = (at + 1) % line.len();
        // Between two samples: the pitch is no whole number of them.
        let read = line[next] * (1.0 - part) + line[at] * part;
        let round = ((1.0 - s) * read + s * last) * loss;
        last = read;
        *sample = read;
        line[at] = round;
        at = next;
    }
    for index in 0..fade {
        sound[length - 1 - index] *= index as f64 / fade as f64;
    }
    sound
}

/// The string's shape as the pick lets go: a kink, roughened, without the tones that have a node
/// where it is plucked.
fn excite(length: usize, how: &Pluck, feel: &mut Feel) -> Vec<f64> {
    let kink = ((length as f64 * how.place) as usize).clamp(1, length - 1);
    // The velocity wave of a plucked string is two opposite steps, `kink` samples apart.
    let mut wave: Vec<f64> = (0..length)
        .map(|index| {
            let step = if index < kink { 1.0 / kink as f64 } else { -1.0 / (length - kink) as f64 };
            step * kink as f64 + 0.55 * feel.noise()
        })
        .collect();
    // Twice round, so that the filter's start does not show.
    let mut filter = Biquad::low_pass(how.pick_hz, 0.6);
    for sample in &wave.clone() {
        filter.next(*sample);
    }
    for sample in &mut wave {
        *sample = filter.next(*sample);
    }
    let mean = wave.iter().sum::<f64>() / length as f64;
    for sample in &mut wave {
        *sample -= mean;
    }
    wave
}

/// Pitch of a MIDI note, Hz.
pub fn hz(pitch: f64) -> f64 {
    440.0 * ((pitch - 69.0) / 12.0).exp2()
}

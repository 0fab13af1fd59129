//! Two channels of sound.

use super::{DURATION_S, SAMPLE_RATE_HZ, frames};

/// Left and right, of one length, full scale at 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Stereo {
    /// Left channel.
    pub left: Vec<f32>,
    /// Right channel.
    pub right: Vec<f32>,
}

impl Stereo {
    /// Silence of the session's length.
    pub(super) fn silent() -> Self {
        let length = frames(DURATION_S);
        Self { left: vec![0.0; length], right: vec![0.0; length] }
    }

    /// Frames.
    #[must_use]
    pub fn len(&self) -> usize {
        self.left.len()
    }

    /// Whether there is no frame.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.left.is_empty()
    }

    /// Length, s.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.len() as f64 / f64::from(SAMPLE_RATE_HZ)
    }

    /// Largest sample magnitude.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.left.iter().chain(&self.right).fold(0.0, |peak, sample| peak.max(sample.abs()))
    }

    /// Multiplies both channels.
    pub(super) fn scale(&mut self, gain: f64) {
        for sample in self.left.iter_mut().chain(&mut self.right) {
            *sample = (f64::from(*sample) * gain) as f32;
        }
    }

    /// Adds another sound, cut to this one's length.
    pub(super) fn add(&mut self, other: &Self) {
        for (sum, sample) in self.left.iter_mut().zip(&other.left) {
            *sum += sample;
        }
        for (sum, sample) in self.right.iter_mut().zip(&other.right) {
            *sum += sample;
        }
    }

    /// Adds a mono sound from a frame on, placed from -1 (left) to 1 (right) at constant power.
    pub(super) fn place(&mut self, sound: &[f64], from: usize, pan: f64, gain: f64) {
        let angle = (pan.clamp(-1.0, 1.0) + 1.0) * std::f64::consts::FRAC_PI_4;
        let (right, left) = angle.sin_cos();
        for (index, sample) in sound.iter().enumerate() {
            let at = from + index;
            if at >= self.left.len() {
                break;
            }
            self.left[at] += (sample * gain * left) as f32;
            self.right[at] += (sample * gain * right) as f32;
        }
    }

    /// Root mean square, dB of full scale, over those tenths of a second that lie within 20 dB of
    /// the loudest: how loud the part is where it plays.
    pub(super) fn playing_db(&self) -> f64 {
        let block = frames(0.1);
        let powers: Vec<f64> = self
            .left
            .chunks(block)
            .zip(self.right.chunks(block))
            .map(|(left, right)| {
                let sum: f64 = left.iter().chain(right).map(|s| f64::from(*s).powi(2)).sum();
                sum / (2 * left.len()) as f64
            })
            .collect();
        let gate = powers.iter().copied().fold(0.0, f64::max) / 100.0;
        let (sum, count) = powers
            .iter()
            .filter(|power| **power > gate)
            .fold((0.0, 0.0), |(sum, count), power| (sum + power, count + 1.0));
        if count == 0.0 { -200.0 } else { 10.0 * (sum / count).log10() }
    }
}

//! Stereo audio in memory, and as float WAV.

use super::CorpusError;
use std::path::Path;

/// Two channels of one length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stereo {
    /// Sample rate, Hz.
    pub rate: u32,
    /// Left, full scale 1.0.
    pub left: Vec<f32>,
    /// Right, full scale 1.0.
    pub right: Vec<f32>,
}

impl Stereo {
    /// Silence of `frames` frames.
    #[must_use]
    pub fn silence(rate: u32, frames: usize) -> Self {
        Self { rate, left: vec![0.0; frames], right: vec![0.0; frames] }
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
        self.len() as f64 / f64::from(self.rate)
    }

    /// Larger magnitude of the two channels at frame `i`.
    #[must_use]
    pub fn magnitude(&self, i: usize) -> f32 {
        self.left[i].abs().max(self.right[i].abs())
    }

    /// Largest sample magnitude of both channels.
    #[must_use]
    pub fn peak(&self) -> f32 {
        (0..self.len()).map(|i| self.magnitude(i)).fold(0.0, f32::max)
    }

    /// Multiplies both channels.
    pub fn gain(&mut self, factor: f32) {
        self.map(|x| x * factor);
    }

    /// Applies a memoryless curve to every sample.
    pub fn map(&mut self, curve: impl Fn(f32) -> f32) {
        for x in self.left.iter_mut().chain(self.right.iter_mut()) {
            *x = curve(*x);
        }
    }

    /// Adds `other` from frame `start` on (may be negative), each channel with its own factor.
    /// What does not fit is dropped.
    pub fn add(&mut self, other: &Self, start: i64, left: f32, right: f32) {
        let from = usize::try_from(-start).unwrap_or(0);
        let at = usize::try_from(start).unwrap_or(0);
        let n = other.len().saturating_sub(from).min(self.len().saturating_sub(at));
        for i in 0..n {
            self.left[at + i] += left * other.left[from + i];
            self.right[at + i] += right * other.right[from + i];
        }
    }

    /// Both channels as slices, for a meter.
    #[must_use]
    pub fn channels(&self) -> [&[f32]; 2] {
        [&self.left, &self.right]
    }

    /// Writes 32-bit float WAV.
    ///
    /// # Errors
    /// [`CorpusError::File`] when the file cannot be written.
    pub fn write(&self, path: &Path) -> Result<(), CorpusError> {
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: self.rate,
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let fail = |why: hound::Error| CorpusError::file(path, why);
        let mut writer = hound::WavWriter::create(path, spec).map_err(fail)?;
        for (l, r) in self.left.iter().zip(&self.right) {
            writer.write_sample(*l).map_err(fail)?;
            writer.write_sample(*r).map_err(fail)?;
        }
        writer.finalize().map_err(fail)
    }

    /// Reads float or integer WAV of one or two channels.
    ///
    /// # Errors
    /// [`CorpusError::File`] when the file is missing, damaged or has more channels.
    pub fn read(path: &Path) -> Result<Self, CorpusError> {
        let fail = |why: hound::Error| CorpusError::file(path, why);
        let mut reader = hound::WavReader::open(path).map_err(fail)?;
        let spec = reader.spec();
        let samples: Vec<f32> = match spec.sample_format {
            hound::SampleFormat::Float => {
                reader.samples::<f32>().collect::<Result<_, _>>().map_err(fail)?
            }
            hound::SampleFormat::Int => {
                let scale = 1.0 / (1_i64 << (spec.bits_per_sample - 1)) as f32;
                reader
                    .samples::<i32>()
                    .map(|x| x.map(|x| x as f32 * scale))
                    .collect::<Result<_, _>>()
                    .map_err(fail)?
            }
        };
        Self::from_interleaved(spec.sample_rate, usize::from(spec.channels), &samples).ok_or_else(
            || CorpusError::file(path, format!("{} channels, expected 1 or 2", spec.channels)),
        )
    }

    /// Splits interleaved samples of one or two channels; a single channel goes to both sides.
    #[must_use]
    pub fn from_interleaved(rate: u32, channels: usize, samples: &[f32]) -> Option<Self> {
        match channels {
            1 => Some(Self { rate, left: samples.to_vec(), right: samples.to_vec() }),
            2 => Some(Self {
                rate,
                left: samples.iter().step_by(2).copied().collect(),
                right: samples.iter().skip(1).step_by(2).copied().collect(),
            }),
            _ => None,
        }
    }
}

/// Decibels as an amplitude factor.
#[must_use]
pub fn db(level: f64) -> f32 {
    10_f64.powf(level / 20.0) as f32
}

/// An amplitude as decibels; silence is -200 dB.
#[must_use]
pub fn to_db(amplitude: f32) -> f64 {
    20.0 * f64::from(amplitude).max(1e-10).log10()
}

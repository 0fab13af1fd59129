//! Planes as the bytes of an audio file.

use std::io::Cursor;

use flac_codec::encode::{FlacSampleWriter, Options};

use crate::error::Fault;

/// Bits of a whole-number sample.
const BITS: u16 = 24;
/// Full scale of them.
const FULL: f64 = 8_388_608.0;

/// What is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// WAV, 24 bit.
    #[default]
    Wav,
    /// WAV, 32-bit float.
    WavFloat,
    /// FLAC, 24 bit.
    Flac,
}

impl Format {
    /// Its code in the JSON.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Wav => "wav",
            Self::WavFloat => "wav-float",
            Self::Flac => "flac",
        }
    }

    /// The end of a file's name.
    pub(super) const fn ending(self) -> &'static str {
        match self {
            Self::Wav | Self::WavFloat => "wav",
            Self::Flac => "flac",
        }
    }

    /// Planes of one length at `rate` as a file.
    pub(super) fn bytes(self, planes: &[Vec<f32>], rate: u32) -> Result<Vec<u8>, Fault> {
        match self {
            Self::Wav | Self::WavFloat => wav(planes, rate, self == Self::WavFloat),
            Self::Flac => flac(planes, rate),
        }
    }
}

fn whole(x: f32) -> i32 {
    (f64::from(x) * FULL).round().clamp(-FULL, FULL - 1.0) as i32
}

fn failed(error: impl std::fmt::Display) -> Fault {
    Fault::Encode(error.to_string())
}

fn wav(planes: &[Vec<f32>], rate: u32, float: bool) -> Result<Vec<u8>, Fault> {
    let spec = hound::WavSpec {
        channels: planes.len() as u16,
        sample_rate: rate,
        bits_per_sample: if float { 32 } else { BITS },
        sample_format: if float { hound::SampleFormat::Float } else { hound::SampleFormat::Int },
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).map_err(failed)?;
    for n in 0..planes.iter().map(Vec::len).min().unwrap_or(0) {
        for plane in planes {
            if float {
                writer.write_sample(plane[n]).map_err(failed)?;
            } else {
                writer.write_sample(whole(plane[n])).map_err(failed)?;
            }
        }
    }
    writer.finalize().map_err(failed)?;
    Ok(bytes.into_inner())
}

/// FLAC with 24 bits.
pub(super) fn flac(planes: &[Vec<f32>], rate: u32) -> Result<Vec<u8>, Fault> {
    let frames = planes.iter().map(Vec::len).min().unwrap_or(0);
    let mut samples = Vec::with_capacity(frames * planes.len());
    for n in 0..frames {
        samples.extend(planes.iter().map(|plane| whole(plane[n])));
    }
    let mut bytes = Cursor::new(Vec::new());
    let (channels, total) = (planes.len() as u8, samples.len() as u64);
    let options = Options::default().no_padding();
    let mut writer =
        FlacSampleWriter::new(&mut bytes, options, rate, BITS.into(), channels, Some(total))
            .map_err(failed)?;
    writer.write(&samples).map_err(failed)?;
    writer.finalize().map_err(failed)?;
    Ok(bytes.into_inner())
}

#[cfg(test)]
mod tests {
    use brunt_files::whole::Whole;

    use super::*;

    /// What is read back is what was written, to the step of 24 bits; of every length, whole blocks or
    /// not, and of one channel or two.
    #[test]
    fn what_is_written_is_read_back() {
        let folder = std::env::temp_dir();
        for (channels, frames) in [(1, 4_096), (2, 10_000), (2, 48_001), (1, 700)] {
            let plane = |c: usize| -> Vec<f32> {
                let x = |n: usize| (0.7 * ((n * (c + 3)) as f32 * 0.01).sin()) as f64;
                (0..frames).map(|n| ((x(n) * FULL).round() / FULL) as f32).collect()
            };
            let planes: Vec<Vec<f32>> = (0..channels).map(plane).collect();
            for format in [Format::Wav, Format::WavFloat, Format::Flac] {
                let name = format!("brunt-encode-{}-{frames}-{channels}", std::process::id());
                let path = folder.join(format!("{name}.{}", format.ending()));
                std::fs::write(&path, format.bytes(&planes, 44_100).expect("bytes"))
                    .expect("written");
                let back = Whole::read(&path);
                std::fs::remove_file(&path).expect("removed");
                let back = back.expect("an audio file");
                assert_eq!(
                    (back.sample_rate_hz, back.planes == planes),
                    (44_100, true),
                    "{format:?}"
                );
            }
        }
    }
}

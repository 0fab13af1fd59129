//! A mix to a file, as a studio bounces it.

use std::error::Error;
use std::path::Path;

use crate::song::{SAMPLE_RATE_HZ, Stereo};

/// Full scale of 24 bits.
const FULL: f64 = 8_388_608.0;

/// Writes 24 bits and gives the samples as they stand in the file, a vector a channel: what is
/// measured elsewhere must be what was written, rounding included.
///
/// # Errors
/// When the file cannot be written.
pub fn write(path: &Path, mix: &Stereo) -> Result<Vec<Vec<f32>>, Box<dyn Error>> {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: SAMPLE_RATE_HZ,
        bits_per_sample: 24,
        sample_format: hound::SampleFormat::Int,
    };
    let name = |e| format!("cannot write {}: {e}", path.display());
    let mut writer = hound::WavWriter::create(path, spec).map_err(name)?;
    let mut samples = vec![Vec::new(); 2];
    for pair in mix.left.iter().zip(&mix.right) {
        for (sample, channel) in [*pair.0, *pair.1].into_iter().zip(&mut samples) {
            let whole = (f64::from(sample) * FULL).round().clamp(-FULL, FULL - 1.0);
            writer.write_sample(whole as i32).map_err(name)?;
            // 24 bits fit a single-precision number exactly.
            channel.push((whole / FULL) as f32);
        }
    }
    writer.finalize().map_err(name)?;
    Ok(samples)
}

//! Brings a file to another sample rate, with the `rubato` crate.

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Resampler};

/// Frames that the resampler works on at once.
const CHUNK: usize = 1024;

/// Channels of one length at `from_hz`, brought to `to_hz`; they lie where they lay, since the
/// filter's delay is taken off.
///
/// # Errors
/// The resampler's own words, where it refuses the rates.
pub(crate) fn to_rate(
    channels: Vec<Vec<f32>>,
    from_hz: u32,
    to_hz: u32,
) -> Result<Vec<Vec<f32>>, String> {
    let frames = channels.first().map_or(0, Vec::len);
    if from_hz == to_hz || frames == 0 {
        return Ok(channels);
    }
    let count = channels.len();
    let mut resampler =
        Fft::<f32>::new(from_hz as usize, to_hz as usize, CHUNK, count, FixedSync::Both)
            .map_err(|e| e.to_string())?;
    let input = SequentialSliceOfVecs::new(&channels, count, frames).map_err(|e| e.to_string())?;
    let room = resampler.process_all_needed_output_len(frames);
    let mut output = vec![vec![0.0; room]; count];
    let mut out =
        SequentialSliceOfVecs::new_mut(&mut output, count, room).map_err(|e| e.to_string())?;
    let (_, written) = resampler
        .process_all_into_buffer(&input, &mut out, frames, None)
        .map_err(|e| e.to_string())?;
    for channel in &mut output {
        channel.truncate(written);
    }
    Ok(output)
}

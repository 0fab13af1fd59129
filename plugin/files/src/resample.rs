//! Brings whole channels from one sample rate to another, with the `rubato` crate.

use brunt_transforms::rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;

/// Least frames that the resampler works on at once.
const CHUNK: usize = 512;

/// Largest sample that goes into a transform: 400 dB over full scale, and far from overflowing.
const MOST: f32 = 1e20;

/// Why channels could not be brought to another rate: the resampler's own words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ResampleError(pub String);

/// Channels of one length at `from_hz`, brought to `to_hz`. The result is as long in time, to a
/// frame, and lies where it lay: the filter's delay is taken off.
///
/// # Errors
/// When a rate is 0 or the channels are unequal.
pub fn to_rate(
    channels: &[Vec<f32>],
    from_hz: u32,
    to_hz: u32,
) -> Result<Vec<Vec<f32>>, ResampleError> {
    let failed = |e: &dyn std::fmt::Display| ResampleError(e.to_string());
    let frames = channels.first().map_or(0, Vec::len);
    if from_hz == to_hz || frames == 0 {
        return Ok(channels.to_vec());
    }
    // The resampler's transforms panic on what is no number, and on sums that overflow. The engine
    // measures the former as silence, so they are silence here, too. Found by `tests/fuzz`.
    let number = |x: &f32| if x.is_finite() { x.clamp(-MOST, MOST) } else { 0.0 };
    let channels: &[Vec<f32>] =
        &channels.iter().map(|c| c.iter().map(number).collect()).collect::<Vec<Vec<f32>>>();
    let count = channels.len();
    let (from, to) = (from_hz as usize, to_hz as usize);
    // An even number of frames at once: the filter's delay is half of it, and an odd one would
    // leave the result half a frame late.
    let step = 2 * from / gcd(from, to);
    let chunk = step * CHUNK.div_ceil(step);
    let mut resampler =
        brunt_transforms::resampler(from, to, chunk, count).map_err(|e| failed(&e))?;
    let input = SequentialSliceOfVecs::new(channels, count, frames).map_err(|e| failed(&e))?;
    let room = resampler.process_all_needed_output_len(frames);
    let mut output = vec![vec![0.0; room]; count];
    let mut out =
        SequentialSliceOfVecs::new_mut(&mut output, count, room).map_err(|e| failed(&e))?;
    let (_, written) = resampler
        .process_all_into_buffer(&input, &mut out, frames, None)
        .map_err(|e| failed(&e))?;
    for channel in &mut output {
        channel.truncate(written);
    }
    Ok(output)
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::to_rate;

    /// Closed form: a sine taken at another rate is the same sine.
    #[test]
    fn a_tone_keeps_its_place_and_level() {
        for (from, to) in [(44_100, 48_000), (96_000, 48_000), (48_000, 44_100), (48_000, 192_000)]
        {
            let at = |hz: f64, n: usize, rate: u32| {
                (0.5 * (std::f64::consts::TAU * hz * n as f64 / f64::from(rate)).sin()) as f32
            };
            for hz in [100.0, 1_000.0, 10_000.0] {
                let input = vec![(0..from as usize).map(|n| at(hz, n, from)).collect::<Vec<_>>()];
                let out = to_rate(&input, from, to).expect("sound rates");
                assert!((out[0].len() as i64 - i64::from(to)).abs() <= 1, "{}", out[0].len());
                let middle = to as usize / 4..to as usize * 3 / 4;
                let worst = middle.map(|n| (out[0][n] - at(hz, n, to)).abs()).fold(0.0, f32::max);
                // -60 dB of the tone.
                assert!(worst < 5e-4, "{from} to {to}, {hz} Hz: {worst}");
            }
        }
    }

    #[test]
    fn one_rate_changes_nothing() {
        let input = vec![vec![0.1, -0.2, 0.3]; 2];
        assert_eq!(to_rate(&input, 48_000, 48_000), Ok(input));
    }
}

//! The intake: gathers samples into cells, whatever the host's blocks, and lets nothing through that is no
//! audio.

use crate::thresholds::LARGEST_SAMPLE;
use crate::{InputHealth, MAX_CHANNELS};

/// One cell of main and side-chain samples being filled.
#[derive(Clone, Debug)]
pub(crate) struct Intake {
    main: [Vec<f32>; MAX_CHANNELS],
    side: [Vec<f32>; MAX_CHANNELS],
    filled: usize,
    side_channels: usize,
}

impl Intake {
    /// Room for `cell_frames` frames of both buses. Allocates.
    pub(crate) fn new(cell_frames: usize) -> Self {
        let side = std::array::from_fn(|_| vec![0.0; cell_frames]);
        Self { side, ..Self::of_main(cell_frames) }
    }

    /// The same without a side-chain: what is given for one is left out.
    pub(crate) fn of_main(cell_frames: usize) -> Self {
        Self {
            main: std::array::from_fn(|_| vec![0.0; cell_frames]),
            side: std::array::from_fn(|_| Vec::new()),
            filled: 0,
            side_channels: 0,
        }
    }

    /// Takes frames `at..` of the block until the block of `frames` frames ends or the cell is
    /// full; gives how many. Samples that are no finite numbers, or over [`LARGEST_SAMPLE`], become silence
    /// and are counted.
    #[inline(never)]
    pub(crate) fn take(
        &mut self,
        main: &[&[f32]],
        side: Option<&[&[f32]]>,
        at: usize,
        frames: usize,
        health: &mut InputHealth,
    ) -> usize {
        let n = (frames - at).min(self.capacity() - self.filled);
        let to = self.filled..self.filled + n;
        for (channel, out) in self.main.iter_mut().enumerate() {
            match main.get(channel) {
                Some(samples) => {
                    copy_audio(&samples[at..at + n], &mut out[to.clone()], Some(&mut *health));
                }
                None => out[to.clone()].fill(0.0),
            }
        }
        let side = side.unwrap_or(&[]);
        for (channel, out) in self.side.iter_mut().filter(|side| !side.is_empty()).enumerate() {
            match side.get(channel).filter(|samples| samples.len() >= at + n) {
                Some(samples) => copy_audio(&samples[at..at + n], &mut out[to.clone()], None),
                None => out[to.clone()].fill(0.0),
            }
        }
        self.side_channels = self.side_channels.max(side.len().min(MAX_CHANNELS));
        self.filled += n;
        n
    }

    /// The first `frames` frames of the main bus, a slice a channel.
    pub(crate) fn main(&self, frames: usize) -> [&[f32]; MAX_CHANNELS] {
        [&self.main[0][..frames], &self.main[1][..frames]]
    }

    /// The whole cell of the side-chain, a slice a channel; silence where the host gave none.
    pub(crate) fn side(&self) -> [&[f32]; MAX_CHANNELS] {
        [&self.side[0], &self.side[1]]
    }

    /// Channels of the side-chain that the host gave.
    pub(crate) fn side_channels(&self) -> usize {
        self.side_channels
    }

    pub(crate) fn frames(&self) -> usize {
        self.filled
    }

    pub(crate) fn capacity(&self) -> usize {
        self.main[0].len()
    }

    pub(crate) fn is_full(&self) -> bool {
        self.filled == self.capacity()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.filled == 0
    }

    pub(crate) fn clear(&mut self) {
        self.filled = 0;
        self.side_channels = 0;
    }
}

/// Copies samples; those that are no audio become 0 and are counted.
fn copy_audio(input: &[f32], out: &mut [f32], health: Option<&mut InputHealth>) {
    // Magnitudes are in the order of their bits, infinity and NaN behind all numbers. On the bits, since sums of
    // numbers must be done one after another.
    const MAGNITUDE: u32 = 0x7fff_ffff;
    let most = LARGEST_SAMPLE.to_bits();
    let mut found = false;
    for (out, &x) in out.iter_mut().zip(input) {
        found |= x.to_bits() & MAGNITUDE > most;
        *out = x;
    }
    if found {
        health.unwrap_or(&mut InputHealth::default()).silence(out);
    }
}

impl InputHealth {
    /// Makes silence of samples that are no finite numbers, or over [`LARGEST_SAMPLE`], and counts them: one of
    /// them would spread over every sum that it goes into.
    pub fn silence(&mut self, samples: &mut [f32]) {
        for x in samples {
            let (nan, large) = (x.is_nan(), x.abs() > LARGEST_SAMPLE);
            self.nan_samples += u64::from(nan);
            self.inf_samples += u64::from(large);
            if nan || large {
                *x = 0.0;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_audio_is_silence_and_counted() {
        let over = f32::from_bits(LARGEST_SAMPLE.to_bits() + 1);
        let input = [
            1.0,
            f32::NAN,
            -LARGEST_SAMPLE,
            -over,
            f32::INFINITY,
            -f32::NAN,
            f32::MIN,
            f32::MAX,
            0.5,
        ];
        let mut out = [9.0; 9];
        let mut health = InputHealth::default();
        copy_audio(&input, &mut out, Some(&mut health));
        assert_eq!(out, [1.0, 0.0, -LARGEST_SAMPLE, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5]);
        assert_eq!(health, InputHealth { nan_samples: 2, inf_samples: 4 });
        // The side-chain's are not counted.
        copy_audio(&input, &mut out, None);
        assert_eq!(health, InputHealth { nan_samples: 2, inf_samples: 4 });
    }
}

//! The newest samples of a bus.

use brunt_engine::MAX_CHANNELS;

use super::limits::MOST;

/// The past of up to two channels, as long as it was made for. Reading and writing copy.
#[derive(Clone, Debug)]
pub struct Ring {
    channels: [Box<[f32]>; MAX_CHANNELS],
    /// Place of the next frame.
    next: usize,
    /// Frames written since the last [`Ring::clear`], at most the length.
    filled: usize,
}

impl Ring {
    /// Keeps at least `frames` frames. Allocates.
    #[must_use]
    pub fn new(frames: usize) -> Self {
        let length = frames.next_power_of_two();
        Self { channels: std::array::from_fn(|_| vec![0.0; length].into()), next: 0, filled: 0 }
    }

    /// Takes `frames` frames, fewer than the ring's length. Samples that are no finite numbers, or
    /// over [`MOST`], become silence; a channel that is not given takes the first one's samples, so that a mono
    /// feed is heard on both sides.
    pub fn write(&mut self, input: &[&[f32]], at: usize, frames: usize) {
        let mask = self.mask();
        for (channel, ring) in self.channels.iter_mut().enumerate() {
            let source = input.get(channel).or(input.first());
            for k in 0..frames {
                let x = source.and_then(|samples| samples.get(at + k)).copied().unwrap_or(0.0);
                ring[(self.next + k) & mask] = if x.abs() <= MOST { x } else { 0.0 };
            }
        }
        self.next = (self.next + frames) & mask;
        self.filled = (self.filled + frames).min(mask + 1);
    }

    /// Fills `out` with the frames of a channel that end `back` frames before the newest one's
    /// end. What is older than the ring, or than its last clearing, is silence.
    pub fn read(&self, channel: usize, back: usize, out: &mut [f32]) {
        let mask = self.mask();
        let start = back + out.len();
        let ring = &self.channels[channel.min(MAX_CHANNELS - 1)];
        for (k, out) in out.iter_mut().enumerate() {
            let age = start - k;
            let known = age <= self.filled;
            *out = if known { ring[self.next.wrapping_sub(age) & mask] } else { 0.0 };
        }
    }

    /// Forgets everything, in no time.
    pub fn clear(&mut self) {
        self.filled = 0;
    }

    fn mask(&self) -> usize {
        self.channels[0].len() - 1
    }
}

#[cfg(test)]
mod tests {
    use super::Ring;

    #[test]
    fn what_was_written_is_read_at_its_age() {
        let mut ring = Ring::new(8);
        let input: Vec<f32> = (1..=20).map(|k| k as f32).collect();
        for at in (0..20).step_by(5) {
            ring.write(&[&input], at, 5);
        }
        let mut out = [0.0; 3];
        ring.read(0, 0, &mut out);
        assert_eq!(out, [18.0, 19.0, 20.0]);
        ring.read(1, 4, &mut out);
        assert_eq!(out, [14.0, 15.0, 16.0], "a mono feed is heard on both sides");
        ring.read(0, 7, &mut out);
        assert_eq!(out, [0.0, 0.0, 13.0], "older than the ring");
        ring.clear();
        ring.write(&[&[f32::NAN, 2.0, f32::MIN, f32::INFINITY]], 0, 4);
        ring.read(0, 1, &mut out);
        assert_eq!(out, [0.0, 2.0, 0.0], "no numbers of audio");
    }
}

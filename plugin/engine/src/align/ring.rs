//! The last second of a stream, addressed by the number of its frames.

/// A ring of samples whose length is a power of two.
#[derive(Clone, Debug)]
pub(crate) struct Ring {
    samples: Box<[f32]>,
    /// Number of the next frame.
    count: u64,
    /// Number of the first frame.
    first: u64,
}

impl Ring {
    /// Room for at least `least` frames. Allocates.
    pub(crate) fn new(least: usize) -> Self {
        Self { samples: vec![0.0; least.next_power_of_two()].into(), count: 0, first: 0 }
    }

    pub(crate) fn push(&mut self, input: &[f32]) {
        let at = self.slot(self.count);
        let first = input.len().min(self.samples.len() - at);
        self.samples[at..at + first].copy_from_slice(&input[..first]);
        self.samples[..input.len() - first].copy_from_slice(&input[first..]);
        self.count += input.len() as u64;
    }

    /// Number of the next frame.
    pub(crate) fn count(&self) -> u64 {
        self.count
    }

    /// Frame of the oldest sample still kept.
    pub(crate) fn oldest(&self) -> u64 {
        self.count.saturating_sub(self.samples.len() as u64).max(self.first)
    }

    /// Copies the frames from `from` on into `out`; `false` where not all of them are kept.
    pub(crate) fn read(&self, from: i64, out: &mut [f32]) -> bool {
        let Ok(start) = u64::try_from(from) else { return false };
        if start < self.oldest() || start + out.len() as u64 > self.count {
            return false;
        }
        let at = self.slot(start);
        let first = out.len().min(self.samples.len() - at);
        let rest = out.len() - first;
        out[..first].copy_from_slice(&self.samples[at..at + first]);
        out[first..].copy_from_slice(&self.samples[..rest]);
        true
    }

    fn slot(&self, frame: u64) -> usize {
        (frame & (self.samples.len() as u64 - 1)) as usize
    }

    pub(crate) fn reset(&mut self) {
        self.begin_at(0);
    }

    /// Forgets everything; the next frame has this number.
    pub(crate) fn begin_at(&mut self, frame: u64) {
        self.samples.fill(0.0);
        (self.count, self.first) = (frame, frame);
    }
}

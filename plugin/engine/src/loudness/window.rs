//! The sliding windows: the last 3 s of hops in a ring.

use crate::true_peak::sample_peak;

/// The last hops, and the sums and the peak over them.
#[derive(Clone, Debug)]
pub(super) struct Windows {
    energies: Box<[f64]>,
    peaks: Box<[f32]>,
    next: usize,
    filled: usize,
    momentary_hops: usize,
    hop_frames: f64,
    momentary: f64,
    short_term: f64,
    peak: f32,
}

impl Windows {
    /// `hops` are the lengths of the momentary and of the short-term window, the longer one last.
    pub(super) fn new(hops: [usize; 2], hop_frames: usize) -> Self {
        let [momentary_hops, short_term_hops] = hops;
        Self {
            energies: vec![0.0; short_term_hops].into(),
            peaks: vec![0.0; short_term_hops].into(),
            next: 0,
            filled: 0,
            momentary_hops,
            hop_frames: hop_frames as f64,
            momentary: 0.0,
            short_term: 0.0,
            peak: 0.0,
        }
    }

    /// Takes a hop's sum of squares and its peak.
    pub(super) fn push(&mut self, energy: f64, peak: f32) {
        let len = self.energies.len();
        self.energies[self.next] = energy;
        self.peaks[self.next] = peak;
        self.next = (self.next + 1) % len;
        self.filled = (self.filled + 1).min(len);

        // Summed anew each time: 300 additions a hop are cheap (0.2 ns a frame), and a loud past
        // leaves no rounding error in a quiet present.
        let from = (self.next + len - self.momentary_hops) % len;
        self.momentary = if from < self.next {
            sum(&self.energies[from..self.next])
        } else {
            sum(&self.energies[from..]) + sum(&self.energies[..self.next])
        };
        self.short_term = sum(&self.energies);
        self.peak = sample_peak(&self.peaks);
    }

    /// Mean square of the momentary window, once it is full.
    pub(super) fn momentary(&self) -> Option<f64> {
        (self.filled >= self.momentary_hops)
            .then(|| self.momentary / (self.momentary_hops as f64 * self.hop_frames))
    }

    /// Mean square of the short-term window, once it is full.
    pub(super) fn short_term(&self) -> Option<f64> {
        let hops = self.energies.len();
        (self.filled >= hops).then(|| self.short_term / (hops as f64 * self.hop_frames))
    }

    /// Largest peak within the short-term window, full or not, linear.
    pub(super) fn short_term_peak(&self) -> f32 {
        self.peak
    }

    pub(super) fn reset(&mut self) {
        self.energies.fill(0.0);
        self.peaks.fill(0.0);
        (self.next, self.filled) = (0, 0);
        (self.momentary, self.short_term, self.peak) = (0.0, 0.0, 0.0);
    }
}

/// Sum in four strands, so that the additions need not wait for each other.
fn sum(values: &[f64]) -> f64 {
    let mut strands = [0.0; 4];
    let mut steps = values.chunks_exact(4);
    for step in &mut steps {
        for (strand, value) in strands.iter_mut().zip(step) {
            *strand += value;
        }
    }
    let rest: f64 = steps.remainder().iter().sum();
    (strands[0] + strands[1]) + (strands[2] + strands[3]) + rest
}

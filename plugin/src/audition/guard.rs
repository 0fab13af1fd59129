//! Holds the true peak of what is heard in place of the mix.
//!
//! A look-ahead limiter. The magnitude between the samples (ITU-R BS.1770-5, Annex 2) gives the
//! gain that each frame needs; the least gain of a stretch a little longer than the look-ahead,
//! averaged over the look-ahead, is a gain that has arrived before the peak does, and stands
//! still over all twelve samples that the peak is interpolated from. The channels share one gain.

use brunt_engine::decibels::magnitude_ratio;
use brunt_engine::{MAX_CHANNELS, TruePeak};

use super::limits::{GUARD_MARGIN_DB, LOOK_AHEAD_MS, RELEASE_MS};

/// Samples that the interpolation of the true peak reaches over, less one.
const REACH: usize = 11;
/// Most frames of one call.
pub const CHUNK: usize = 128;

/// The guard of one bus. [`Guard::new`] allocates, nothing else does.
#[derive(Clone, Debug)]
pub struct Guard {
    peaks: [TruePeak; MAX_CHANNELS],
    delays: [Box<[f32]>; MAX_CHANNELS],
    place: usize,
    least: Least,
    /// Gains of the last look-ahead, and their sum. The gains are f32 and the sum is f64, so it
    /// is exact, and nothing drifts.
    gains: Box<[f32]>,
    gain_place: usize,
    sum: f64,
    /// The gain on its way back to 1.
    held: f32,
    release: f32,
    magnitudes: [[f32; CHUNK]; MAX_CHANNELS],
}

impl Guard {
    /// For a stream of `rate_hz`. Allocates.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        let look_ahead = ((rate_hz * LOOK_AHEAD_MS / 1e3).round() as usize).max(2);
        Self {
            peaks: std::array::from_fn(|_| TruePeak::new()),
            delays: std::array::from_fn(|_| vec![0.0; look_ahead + REACH - 1].into()),
            place: 0,
            least: Least::new(look_ahead + REACH),
            gains: vec![1.0; look_ahead].into(),
            gain_place: 0,
            sum: look_ahead as f64,
            held: 1.0,
            release: (1.0 - (-1e3 / (RELEASE_MS * rate_hz)).exp()) as f32,
            magnitudes: [[0.0; CHUNK]; MAX_CHANNELS],
        }
    }

    /// Frames by which the output comes after the input.
    #[must_use]
    pub fn delay(&self) -> usize {
        self.delays[0].len()
    }

    /// Holds up to [`CHUNK`] frames under `ceiling_dbtp`, in place, and delays them. Samples must
    /// be finite. Gives the least gain, linear.
    pub fn process(&mut self, buses: &mut [[f32; CHUNK]], frames: usize, ceiling_dbtp: f64) -> f32 {
        let ceiling = magnitude_ratio(ceiling_dbtp - GUARD_MARGIN_DB) as f32;
        for ((bus, peak), out) in buses.iter().zip(&mut self.peaks).zip(&mut self.magnitudes) {
            peak.magnitudes(&bus[..frames], &mut out[..frames]);
        }
        let mut least = 1.0_f32;
        let share = 1.0 / self.gains.len() as f64;
        for k in 0..frames {
            let peak = self.magnitudes[..buses.len()].iter().fold(0.0_f32, |a, m| a.max(m[k]));
            let need = if peak > ceiling { ceiling / peak } else { 1.0 };
            let low = self.least.push(need);
            self.held = low.min(self.held + (1.0 - self.held) * self.release);
            if self.held > 0.999_999 && low >= 1.0 {
                self.held = 1.0;
            }
            let gone = std::mem::replace(&mut self.gains[self.gain_place], self.held);
            self.gain_place = (self.gain_place + 1) % self.gains.len();
            self.sum += f64::from(self.held) - f64::from(gone);
            let gain = (self.sum * share) as f32;
            least = least.min(gain);
            for (bus, delay) in buses.iter_mut().zip(&mut self.delays) {
                let late = std::mem::replace(&mut delay[self.place], bus[k]);
                bus[k] = late * gain;
            }
            self.place = (self.place + 1) % self.delays[0].len();
        }
        least
    }

    /// Forgets everything.
    pub fn reset(&mut self) {
        for peak in &mut self.peaks {
            peak.reset();
        }
        for delay in &mut self.delays {
            delay.fill(0.0);
        }
        self.least.reset();
        self.gains.fill(1.0);
        self.sum = self.gains.len() as f64;
        self.held = 1.0;
    }
}

/// The least of the last so many numbers: a queue of those that can still become it, each with
/// the turn at which it leaves.
#[derive(Clone, Debug)]
struct Least {
    queue: Box<[(f32, u64)]>,
    first: usize,
    count: usize,
    turn: u64,
}

impl Least {
    fn new(window: usize) -> Self {
        Self { queue: vec![(1.0, 0); window].into(), first: 0, count: 0, turn: 0 }
    }

    /// Takes a number and gives the least of the window.
    fn push(&mut self, x: f32) -> f32 {
        let window = self.queue.len();
        if self.count > 0 && self.queue[self.first].1 <= self.turn {
            self.first = (self.first + 1) % window;
            self.count -= 1;
        }
        while self.count > 0 && self.queue[(self.first + self.count - 1) % window].0 >= x {
            self.count -= 1;
        }
        self.queue[(self.first + self.count) % window] = (x, self.turn + window as u64);
        self.count += 1;
        self.turn += 1;
        self.queue[self.first].0
    }

    fn reset(&mut self) {
        (self.first, self.count, self.turn) = (0, 0, 0);
    }
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_pcg::Pcg64;

    use super::Least;

    #[test]
    fn the_least_of_a_window_is_the_least_of_that_window() {
        let mut random = Pcg64::seed_from_u64(1);
        let numbers: Vec<f32> = (0..500).map(|_| random.random_range(0.0..4096.0)).collect();
        for window in [1, 2, 7, 60] {
            let mut least = Least::new(window);
            for (k, &x) in numbers.iter().enumerate() {
                let from = (k + 1).saturating_sub(window);
                let want = numbers[from..=k].iter().fold(f32::MAX, |a, &b| a.min(b));
                assert_eq!(least.push(x), want, "window {window}, place {k}");
            }
        }
    }
}

//! How loud the mix is, place by place of the song, told to the thread that reads its parts: parts are
//! heard ahead of their faders, and the mix says what became of them
//! ([`brunt_engine::parts::levels`]).
//!
//! The audio thread's [`LevelTeller`] sums hops of 10 ms up to stretches of 100 ms, as long as the song
//! goes on without a jump. The thread of the registry keeps them in a [`LevelMap`], in which a later
//! pass replaces an earlier one place by place.

use std::collections::BTreeMap;

use brunt_engine::Hop;
use brunt_engine::parts::levels::{Stretch, Stretches};

use crate::song::goes_on;

/// Most stretches that are kept; those earliest in the song leave first. Ours: 70 minutes, in 2 MB.
const MOST: usize = 42_000;

/// The audio thread's end. Nothing here allocates, locks or makes a system call.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct LevelTeller {
    /// Place in the song less measured frames, while the song runs.
    ahead: Option<i64>,
    /// Measured frame from which on it is that.
    since: u64,
    open: Stretches,
}

impl LevelTeller {
    /// A block starts at measured frame `frame`, at `rate_hz`, and at the place `place` of the song.
    pub(crate) fn block(&mut self, frame: u64, place: Option<i64>, rate_hz: f64) {
        let ahead = place.map(|place| place - frame as i64);
        if !goes_on(self.ahead, ahead, rate_hz) {
            *self = Self { ahead, since: frame, open: Stretches::default() };
        }
    }

    /// Takes a hop; gives a stretch that it ends.
    pub(crate) fn hop(&mut self, hop: &Hop) -> Option<Stretch> {
        let ahead = self.ahead.filter(|_| hop.start_frame >= self.since)?;
        self.open.hop(hop, hop.start_frame as i64 + ahead)
    }
}

/// The mix's levels as they were told last at each place. Not for the audio thread.
#[derive(Debug, Default)]
pub(super) struct LevelMap {
    stretches: BTreeMap<i64, Stretch>,
}

impl LevelMap {
    /// Takes what comes next. All are of one length.
    pub(super) fn take(&mut self, stretch: Stretch) {
        let slot = i64::from(stretch.frames.max(1));
        self.stretches.insert(stretch.start_frame.div_euclid(slot), stretch);
        if self.stretches.len() > MOST {
            self.stretches.pop_first();
        }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.stretches.clear();
    }

    /// All of them, in order of place.
    pub(super) fn all(&self) -> Vec<Stretch> {
        self.stretches.values().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;
    const HOP: usize = 480;

    /// What [`hop`]s of that power in the mean have in each band.
    fn bands(power: f32) -> [f32; 3] {
        [power, 2.0 * power, 4.0 * power]
    }

    fn hop(number: u64, power: f64) -> Hop {
        Hop {
            start_frame: number * HOP as u64,
            frames: HOP,
            main_energy: 0.0,
            main_bands: [1.0, 2.0, 4.0].map(|share| share * power * HOP as f64),
            side_energy: 0.0,
        }
    }

    /// Plays some hops from a place on, in blocks of a hop; gives what is told.
    fn play(teller: &mut LevelTeller, from: u64, hops: u64, place: Option<i64>) -> Vec<Stretch> {
        (from..from + hops)
            .filter_map(|n| {
                let place = place.map(|place| place + ((n - from) * HOP as u64) as i64);
                teller.block(n * HOP as u64, place, RATE_HZ);
                teller.hop(&hop(n, n as f64))
            })
            .collect()
    }

    /// Closed form: ten hops are a stretch, at their place, with the mean of their powers.
    #[test]
    fn ten_hops_are_a_stretch_with_their_mean_power() {
        let mut teller = LevelTeller::default();
        let told = play(&mut teller, 0, 25, Some(96_000));
        let powers = [(96_000, 4.5), (100_800, 14.5)];
        let wanted = powers.map(|(start_frame, power)| Stretch {
            start_frame,
            frames: 4_800,
            bands: bands(power),
        });
        assert_eq!(told, wanted);
    }

    /// Without a place nothing is told, and no stretch reaches over a jump.
    #[test]
    fn a_jump_starts_anew_and_no_place_tells_nothing() {
        let mut teller = LevelTeller::default();
        assert_eq!(play(&mut teller, 0, 30, None), []);
        assert_eq!(play(&mut teller, 30, 15, Some(0)).len(), 1);
        let told = play(&mut teller, 45, 15, Some(480_000));
        assert_eq!(told.len(), 1);
        assert_eq!((told[0].start_frame, told[0].bands), (480_000, bands(49.5)));
    }

    #[test]
    fn a_later_pass_replaces_an_earlier_one() {
        let mut map = LevelMap::default();
        let at = |start_frame, power| Stretch { start_frame, frames: 4_800, bands: bands(power) };
        for stretch in [at(0, 1.0), at(4_800, 2.0), at(4_790, 3.0), at(10, 4.0)] {
            map.take(stretch);
        }
        assert_eq!(map.all(), [at(10, 4.0), at(4_800, 2.0)]);
        map.clear();
        assert_eq!(map.all(), []);
    }
}

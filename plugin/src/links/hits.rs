//! Where in the song the mix was found to have hits, told to the thread that reads its parts: costs are counted
//! there, as they are in files.
//!
//! The audio thread's [`HitTeller`] places each hit that the meter gives out, under half a second after its
//! onset, on the song as it ran then. The thread of the registry keeps them in a [`HitMap`], in which a
//! later pass replaces an earlier one place by place.

use std::collections::BTreeSet;

use crate::song::goes_on;

/// Most hits that are kept; those earliest in the song leave first. Ours: an hour and a half of eight a
/// second.
const MOST: usize = 43_000;

/// A hit of the mix.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct MixHit {
    /// Place in the song from which on there is no other before this one, frames.
    pub(crate) from: i64,
    /// Its place in the song, frames.
    pub(crate) at: i64,
}

/// A stretch of the song that is played without a jump.
#[derive(Clone, Copy, Debug, Default)]
struct Run {
    /// Place in the song less measured frames; `None` while it does not run.
    ahead: Option<i64>,
    /// Measured frame from which on it is that.
    since: u64,
    /// Measured frame of the latest hit in it, or of its start.
    last: u64,
}

/// The audio thread's end. Nothing here allocates, locks or makes a system call.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct HitTeller {
    run: Run,
    /// The run before: a hit at its end is given out in the next one.
    before: Run,
}

impl HitTeller {
    /// A block starts at measured frame `frame`, at `rate_hz`, and at the place `place` of the song.
    pub(crate) fn block(&mut self, frame: u64, place: Option<i64>, rate_hz: f64) {
        let ahead = place.map(|place| place - frame as i64);
        if !goes_on(self.run.ahead, ahead, rate_hz) {
            *self = Self { run: Run { ahead, since: frame, last: frame }, before: self.run };
        }
    }

    /// Places the hit at measured frame `frame`.
    pub(crate) fn hit(&mut self, frame: u64) -> Option<MixHit> {
        let run = if frame >= self.run.since {
            &mut self.run
        } else if frame >= self.before.since {
            &mut self.before
        } else {
            return None;
        };
        let ahead = run.ahead?;
        let from = run.last.min(frame) as i64 + ahead;
        // Hits come in order of their ends.
        run.last = run.last.max(frame);
        Some(MixHit { from, at: frame as i64 + ahead })
    }
}

/// The mix's hits as they were told last at each place. Not for the audio thread.
#[derive(Debug, Default)]
pub(super) struct HitMap {
    places: BTreeSet<i64>,
    told: u64,
}

impl HitMap {
    /// Takes what comes next.
    pub(super) fn take(&mut self, hit: MixHit) {
        let stale: Vec<i64> = self.places.range(hit.from.min(hit.at)..=hit.at).copied().collect();
        for place in stale.iter().filter(|place| **place > hit.from) {
            self.places.remove(place);
        }
        self.places.insert(hit.at);
        self.told += 1;
        if self.places.len() > MOST {
            self.places.pop_first();
        }
    }

    /// Forgets everything.
    pub(super) fn clear(&mut self) {
        self.places.clear();
        self.told += 1;
    }

    /// A number that changes with what is known.
    pub(super) fn told(&self) -> u64 {
        self.told
    }

    /// All of them, in order of place.
    pub(super) fn all(&self) -> Vec<i64> {
        self.places.iter().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    fn hit(from: i64, at: i64) -> MixHit {
        MixHit { from, at }
    }

    /// Each hit is where the song was at its onset, also when the song has jumped or stopped since.
    #[test]
    fn a_hit_is_placed_in_the_run_that_it_sounded_in() {
        let mut teller = HitTeller::default();
        teller.block(0, None, RATE_HZ);
        assert_eq!(teller.hit(10), None);
        teller.block(1_000, Some(96_000), RATE_HZ);
        assert_eq!(teller.hit(3_000), Some(hit(96_000, 98_000)));
        // A host that rounds by a few frames has not jumped.
        teller.block(5_000, Some(100_003), RATE_HZ);
        assert_eq!(teller.hit(6_000), Some(hit(98_000, 101_000)));
        teller.block(9_000, Some(0), RATE_HZ);
        assert_eq!(teller.hit(8_000), Some(hit(101_000, 103_000)));
        assert_eq!(teller.hit(9_500), Some(hit(0, 500)));
        teller.block(10_000, None, RATE_HZ);
        assert_eq!(teller.hit(9_900), Some(hit(500, 900)));
        assert_eq!(teller.hit(9_800), Some(hit(800, 800)));
        assert_eq!(teller.hit(10_500), None);
        assert_eq!(teller.hit(8_500), None);
    }

    #[test]
    fn a_later_pass_replaces_an_earlier_one() {
        let mut map = HitMap::default();
        for told in [hit(0, 100), hit(100, 200), hit(200, 300), hit(300, 400)] {
            map.take(told);
        }
        // From 150 on, and up to 320: what was at 200 and 300 is not there any more.
        map.take(hit(150, 210));
        map.take(hit(210, 320));
        assert_eq!(map.all(), [100, 210, 320, 400]);
        // One that comes late takes none away.
        map.take(hit(150, 150));
        assert_eq!(map.all(), [100, 150, 210, 320, 400]);
        map.take(hit(100, 210));
        // The same pass again changes nothing.
        for told in [hit(0, 100), hit(100, 210), hit(210, 320), hit(320, 400)] {
            map.take(told);
        }
        assert_eq!(map.all(), [100, 210, 320, 400]);
        let told = map.told();
        map.clear();
        assert!(map.all().is_empty() && map.told() != told);
    }
}

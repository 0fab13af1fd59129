//! What the parts cost at each place of the song.
//!
//! A cost is a mean over main hits, so each hit has its share: what it alone gets back
//! ([`HitGain`](super::HitGain)). [`PlaceCosts`] keeps these shares by the second and gives the cost of a place as
//! the mean over the hits around it. Every hit of the song together gives the cost of the whole.

use std::collections::BTreeMap;

use super::PartsReading;

/// Seconds on either side of a place that count with it. Ours: with its own second five, about the
/// length of the passages of timing, in which a song has ten main hits or so.
pub const PLACE_S: i64 = 2;
/// Most seconds that are kept. Ours: a show of four hours and a half.
const MOST: usize = 16_384;
/// Furthest place that is kept, s either way. Ours: eleven days.
const FURTHEST_S: f64 = 1e6;

/// Slack at the end of a stretch, s: rounding must not take in another second.
const EDGE_S: f64 = 1e-6;

/// Gains of timing, clutter and drive at some places, as sums: those of two places add up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlaceSums([(f64, u32); 3]);

impl PlaceSums {
    /// Adds the hits of other places.
    pub fn add(&mut self, other: &Self) {
        for (sum, other) in self.0.iter_mut().zip(other.0) {
            sum.0 += other.0;
            sum.1 += other.1;
        }
    }

    /// Cost of timing, clutter and drive, dB: the mean over the hits, not negative. `None` where no
    /// hit was read.
    #[must_use]
    pub fn costs_db(&self) -> [Option<f64>; 3] {
        self.0.map(|(sum, hits)| (hits > 0).then(|| (sum / f64::from(hits)).max(0.0)))
    }
}

/// The costs of timing, clutter and drive by their place, as each place was read last. Not for the
/// audio thread.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlaceCosts {
    /// By the whole second.
    seconds: BTreeMap<i64, PlaceSums>,
}

impl PlaceCosts {
    /// Takes what was read of the song from `from_s` to `to_s`: it replaces what was known there.
    pub fn take(&mut self, reading: &PartsReading, (from_s, to_s): (f64, f64)) {
        let (Some(first), Some(last)) = (second(from_s), second(to_s)) else { return };
        self.seconds.retain(|second, _| !(first..=last).contains(second));
        let leaks = [&reading.timing.gains, &reading.clutter.gains, &reading.drive.gains];
        for (leak, gains) in leaks.into_iter().enumerate() {
            for gain in gains.iter().filter(|gain| gain.db.is_finite()) {
                let Some(second) = second(gain.time_s) else { continue };
                let (sum, hits) = &mut self.seconds.entry(second).or_default().0[leak];
                *sum += gain.db;
                *hits += 1;
            }
        }
        while self.seconds.len() > MOST {
            // What lies farthest from what was read last leaves.
            let end = |key: Option<(&i64, _)>| key.map_or(0, |(second, _)| *second);
            let (low, high) =
                (end(self.seconds.first_key_value()), end(self.seconds.last_key_value()));
            if first - low > high - last {
                self.seconds.pop_first();
            } else {
                self.seconds.pop_last();
            }
        }
    }

    /// The hits of the seconds from `from_s` to just before `to_s`, or of the one at `from_s`, and of
    /// [`PLACE_S`] on either side.
    #[must_use]
    pub fn around(&self, from_s: f64, to_s: f64) -> PlaceSums {
        let mut sums = PlaceSums::default();
        if let (Some(first), Some(last)) = (second(from_s), second((to_s - EDGE_S).max(from_s))) {
            let seconds = self.seconds.range(first - PLACE_S..=last + PLACE_S);
            seconds.for_each(|(_, other)| sums.add(other));
        }
        sums
    }

    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.seconds.is_empty()
    }
}

/// The whole second that a place lies in; `None` of a place that no song has.
fn second(at_s: f64) -> Option<i64> {
    (at_s.abs() <= FURTHEST_S).then(|| at_s.floor() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::gain::gains;

    /// Gains of timing and drive, two hits a second.
    fn reading(from_s: f64, to_s: f64, timing: impl Fn(f64) -> f64) -> PartsReading {
        let count = ((to_s - from_s) * 2.0) as usize;
        let times: Vec<f64> = (0..count).map(|k| from_s + 0.25 + 0.5 * k as f64).collect();
        let mut reading = PartsReading::default();
        reading.timing.gains = gains(times.clone(), times.iter().map(|t| timing(*t)));
        reading.drive.gains = gains(times.clone(), times.iter().map(|_| -0.5));
        reading
    }

    #[test]
    fn a_place_costs_what_its_hits_get_back() {
        let mut costs = PlaceCosts::default();
        costs.take(&reading(0.0, 20.0, |t| if t < 10.0 { 3.0 } else { 0.5 }), (0.0, 20.0));
        let at = |s: f64| costs.around(s, s).costs_db();
        assert_eq!(at(4.2), [Some(3.0), None, Some(0.0)]);
        assert_eq!(at(15.9), [Some(0.5), None, Some(0.0)]);
        // Two of the five seconds lie before the change.
        assert_eq!(at(10.5)[0], Some((2.0 * 3.0 + 3.0 * 0.5) / 5.0));
        assert_eq!(at(23.0), [None; 3]);
        assert_eq!(costs.around(0.0, 20.0).costs_db()[0], Some(1.75), "the mean of the whole");
        assert_eq!(costs.around(6.0, 7.0), costs.around(6.0, 6.0));
        assert_eq!(costs.around(f64::NAN, 4.0).costs_db(), [None; 3]);
    }

    #[test]
    fn a_later_reading_replaces_its_places_and_no_others() {
        let mut costs = PlaceCosts::default();
        costs.take(&reading(0.0, 30.0, |_| 3.0), (0.0, 30.0));
        costs.take(&reading(10.0, 20.0, |_| 1.0), (10.0, 20.0));
        let at = |costs: &PlaceCosts, s: f64| costs.around(s, s).costs_db()[0];
        assert_eq!(
            [at(&costs, 5.0), at(&costs, 15.0), at(&costs, 25.0)],
            [3.0, 1.0, 3.0].map(Some)
        );
        // Where nothing is read any more nothing is known.
        costs.take(&PartsReading::default(), (10.0, 20.0));
        assert_eq!(at(&costs, 15.0), None);
    }

    #[test]
    fn memory_is_bounded_and_the_farthest_leaves() {
        let mut costs = PlaceCosts::default();
        for k in 0..20 {
            let from = f64::from(k) * 1_000.0;
            costs.take(&reading(from, from + 1_000.0, |_| 1.0), (from, from + 1_000.0));
        }
        assert_eq!(costs.seconds.len(), MOST);
        let at = |s: f64| costs.around(s, s).costs_db()[0];
        assert_eq!((at(500.0), at(19_500.0)), (None, Some(1.0)));
    }
}

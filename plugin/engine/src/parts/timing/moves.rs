//! What looseness costs: the shared hits as they are against the same with parts moved.

use super::shifted::shifted;
use super::wave::{Lows, Wave};
use crate::Cost;
use crate::parts::sum::{contrasts_db, percentile};

/// A part's powers and its events that others share.
#[derive(Clone, Debug, Default)]
pub(crate) struct Moving {
    /// Weighted power of each cell.
    pub(crate) powers: Vec<f32>,
    /// Its shared onsets, in order of time.
    pub(crate) events: Vec<Event>,
    /// Its low end, which adds up with that of others as a wave; `None` where powers alone count.
    pub(crate) wave: Option<Wave>,
}

/// One onset of a part that belongs to a hit.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Event {
    /// Cell of the onset, with its fraction.
    pub(crate) cell: f64,
    /// How much later than the reference it comes, cells.
    pub(crate) late: f64,
    /// The part's constant offset, cells.
    pub(crate) offset: f64,
    /// Number of the hit that it belongs to: the reference's onset.
    pub(crate) hit: usize,
}

/// What is taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Without {
    /// Nothing.
    Nothing,
    /// The spread: every onset goes to its part's constant offset.
    Spread,
    /// The constant offset; the spread stays.
    Offset,
    /// Both.
    Both,
}

impl Without {
    /// Where a stroke goes that is so `late` in a part of this constant `offset`.
    pub(super) fn by(self, late: f64, offset: f64) -> f64 {
        match self {
            Self::Nothing => 0.0,
            Self::Spread => offset - late,
            Self::Offset => -offset,
            Self::Both => -late,
        }
    }
}

impl Moving {
    /// Its power as it is without something.
    pub(super) fn power(&self, without: Without) -> Vec<f32> {
        self.shift(&self.powers, without)
    }

    /// Some powers of the part, moved with its events.
    pub(super) fn shift(&self, powers: &[f32], without: Without) -> Vec<f32> {
        let moves: Vec<(f64, f64)> = self
            .events
            .iter()
            .map(|event| (event.cell, without.by(event.late, event.offset)))
            .collect();
        if moves.iter().all(|&(_, by)| by == 0.0) {
            powers.to_vec()
        } else {
            shifted(powers, &moves)
        }
    }
}

/// Parts that are added up.
#[derive(Clone, Debug, Default)]
pub(super) struct Pile {
    power: Vec<f32>,
    lows: Lows,
}

impl Pile {
    /// Adds a part as it is without something.
    pub(super) fn add(&mut self, part: &Moving, without: Without) {
        let Some(wave) = &part.wave else {
            add(&mut self.power, &part.power(without), 1.0);
            return;
        };
        add(&mut self.power, &part.shift(&wave.rest(&part.powers), without), 1.0);
        let lows = wave.moved(|stray| without.by(stray.late_ms, stray.offset_ms));
        self.lows.iter_mut().zip(&lows).for_each(|(sum, lows)| add(sum, lows, 1.0));
    }

    /// Takes a part out again that was added as it is.
    pub(super) fn take_out(&mut self, part: &Moving) {
        let Some(wave) = &part.wave else {
            add(&mut self.power, &part.powers, -1.0);
            return;
        };
        add(&mut self.power, &wave.rest(&part.powers), -1.0);
        self.lows.iter_mut().zip(wave.lows()).for_each(|(sum, lows)| add(sum, lows, -1.0));
    }

    /// Power of the sum, cell by cell.
    pub(super) fn sum(&self) -> Vec<f32> {
        // Differences of f32 may end a little under nothing.
        let mut sum: Vec<f32> = self.power.iter().map(|power| power.max(0.0)).collect();
        for lows in &self.lows {
            sum.iter_mut().zip(lows).for_each(|(sum, low)| *sum += low * low);
        }
        sum
    }
}

fn add(to: &mut Vec<f32>, of: &[f32], times: f32) {
    to.resize(to.len().max(of.len()), 0.0);
    to.iter_mut().zip(of).for_each(|(to, of)| *to += times * of);
}

/// The sum of parts, and where each hit stands in it.
pub(crate) struct Version {
    /// Power of the sum, cell by cell.
    pub(crate) sum: Vec<f32>,
    /// The reference's onset of each hit, cells: the same in every version.
    hits: Vec<u64>,
    /// The onsets of each hit, cells; the reference's where no part has one.
    onsets: Vec<Vec<f64>>,
}

/// The parts `moving` with something taken away from those that `which` names. `hits`: cell of each
/// hit of the reference, and whether that plays itself.
pub(crate) fn version(
    moving: &[Moving],
    hits: &[(f64, bool)],
    without: Without,
    which: impl Fn(usize) -> bool,
) -> Version {
    let mut pile = Pile::default();
    let mut onsets: Vec<Vec<f64>> =
        hits.iter().map(|&(cell, plays)| if plays { vec![cell] } else { Vec::new() }).collect();
    for (index, part) in moving.iter().enumerate() {
        let without = if which(index) { without } else { Without::Nothing };
        pile.add(part, without);
        for event in &part.events {
            let by = without.by(event.late, event.offset);
            onsets[event.hit].push((event.cell + by).max(0.0));
        }
    }
    let sum = pile.sum();
    for (onsets, hit) in onsets.iter_mut().zip(hits).filter(|(onsets, _)| onsets.is_empty()) {
        onsets.push(hit.0.max(0.0));
    }
    let hits = hits.iter().map(|hit| hit.0.max(0.0) as u64).collect();
    Version { sum, hits, onsets }
}

impl Version {
    /// Level of each hit, dB: the loudest 10 ms from its first onset to 30 ms behind its last. They
    /// start with a cell or with an onset: hits that stand together all start within one cell, and
    /// whole cells would cut off a part of each.
    pub(crate) fn levels_db(&self) -> Vec<f64> {
        let cell = |at: usize| self.sum.get(at).copied().unwrap_or(0.0);
        let whole = |from: usize| -> f32 {
            let from = from.min(self.sum.len());
            self.sum[from..(from + 10).min(self.sum.len())].iter().sum()
        };
        let exact = |onset: f64| {
            let (from, share) = (onset as usize, onset.fract() as f32);
            // What of the first cell lies ahead of the onset is as loud as the cell before.
            let ahead = from.checked_sub(1).map_or(0.0, cell);
            whole(from) + share * (cell(from + 10) - ahead)
        };
        self.onsets
            .iter()
            .map(|onsets| {
                let first = onsets.iter().copied().fold(f64::INFINITY, f64::min) as usize;
                let last = onsets.iter().copied().fold(0.0, f64::max) as usize;
                let most = (first..=last + 20)
                    .map(whole)
                    .chain(onsets.iter().copied().map(exact))
                    .fold(0.0, f32::max);
                10.0 * f64::from(most / 10.0).max(1e-12).log10()
            })
            .collect()
    }

    /// The reference's onset of each hit, cells.
    pub(crate) fn hits(&self) -> &[u64] {
        &self.hits
    }

    /// Hit contrast of each hit, dB, where the reference strikes. A part that comes earlier is no
    /// hit of its own but belongs to what surrounds this one: in a mix the onset is found where
    /// most of the power rises, and that does not move with a part.
    pub(crate) fn contrasts_db(&self) -> Vec<f64> {
        contrasts_db(&self.sum, &self.hits)
    }
}

/// What shared attacks get back from `now` to `then`, a value each: mean and its 90 % range from
/// 200 drawings of hits with replacement (Efron 1979). `None` of no hits.
pub(crate) fn gained(now: &[f64], then: &[f64]) -> Option<Cost> {
    let gains: Vec<f64> = then.iter().zip(now).map(|(then, now)| then - now).collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    if gains.is_empty() {
        return None;
    }
    let db = mean(&gains);
    let mut state = 0x9e37_79b9_7f4a_7c15u64;
    let mut draw = |count: usize| {
        // Steele & Vigna's splitmix64: the same numbers on every machine.
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % count as u64) as usize
    };
    let mut means = Vec::with_capacity(200);
    for _ in 0..200 {
        let drawn: Vec<f64> = (0..gains.len()).map(|_| gains[draw(gains.len())]).collect();
        means.push(mean(&drawn));
    }
    let at = |q| percentile(&means, q).unwrap_or(db).max(0.0);
    Some(Cost { db: db.max(0.0), low_db: at(0.05), high_db: at(0.95) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::timing::deviation::Stray;
    use crate::parts::{PartCell, PartTrack};

    /// Closed form: drums of power 1 for 40 ms over 0.01, one a half second, and a part of power 0.5
    /// for 40 ms, 20 ms ahead of them. The hits stay where the drums strike: 10 ms of both are there
    /// from the start, so the level stays; what surrounds a hit loses the part's 18 ms of 568 that
    /// count (400 ms less 2 ahead of the hit and 170 behind it).
    #[test]
    fn a_part_ahead_of_the_drums_fills_what_surrounds_the_hit() {
        let early = 20;
        let strike = |ms: usize, at: usize| (ms + 500 - at) % 500 < 40 && ms >= at;
        let drums = (0..10_000).map(|ms| if strike(ms, 250) { 1.0 } else { 0.01 }).collect();
        let part = (0..10_000).map(|ms| if strike(ms, 230) { 0.5 } else { 0.0 }).collect();
        let hits: Vec<(f64, bool)> =
            (0..19).map(|n| (250.0 + f64::from(n) * 500.0, true)).collect();
        let offset = -f64::from(early);
        let event = |(hit, at): (usize, &(f64, bool))| Event {
            cell: at.0 + offset,
            late: offset,
            offset,
            hit,
        };
        let events: Vec<Event> = hits.iter().enumerate().map(event).collect();
        let moving = [drums, part].map(|powers| Moving { powers, ..Moving::default() });
        let moving = [moving[0].clone(), Moving { events, ..moving[1].clone() }];
        let read = |without| version(&moving, &hits, without, |_| true).contrasts_db();
        let (now, then) = (read(Without::Nothing), read(Without::Both));
        let cells = 398.0 + 170.0;
        let bed = 0.01 + 0.5 * 18.0 / cells;
        for n in 2..17 {
            assert!((now[n] - 10.0 * (1.5f64 / bed).log10()).abs() < 0.01, "{n}: {}", now[n]);
            assert!((then[n] - 10.0 * (1.5f64 / 0.01).log10()).abs() < 0.01, "{n}: {}", then[n]);
        }
    }

    /// Closed form: two parts of power 1 that fall by half each 10 ms, both struck half a cell into
    /// one: the loudest 10 ms are those from there, not from the edge of the cell.
    #[test]
    fn a_level_starts_with_the_onset_and_not_with_the_cell() {
        let energy = |to: f64| if to > 0.0 { 1.0 - 0.5f64.powf(to / 10.0) } else { 0.0 };
        let power = |at: f64| -> Vec<f32> {
            let cell = |n: usize| energy(n as f64 + 1.0 - at) - energy(n as f64 - at);
            (0..200).map(|n| cell(n) as f32).collect()
        };
        let parts = [0, 1].map(|_| Moving {
            powers: power(50.5),
            events: vec![Event { cell: 50.5, ..Event::default() }],
            wave: None,
        });
        let read = version(&parts, &[(50.5, false)], Without::Nothing, |_| true).levels_db();
        let want = 10.0 * (2.0 * energy(10.0) / 10.0).log10();
        assert!((read[0] - want).abs() < 0.01, "{} dB, expected {want}", read[0]);
    }

    /// Two parts of one low note, 30 cells each, of power 1 in the wave and 0.5 besides, the second 40
    /// cells late and turned over where `turned`.
    fn pair(turned: bool) -> [Moving; 2] {
        [(100, 1.0), (140, if turned { -1.0 } else { 1.0 })].map(|(at, level)| {
            let plays = |n: usize| (at..at + 30).contains(&n);
            let track = PartTrack {
                sample_rate_hz: 48_000.0,
                cell_frames: 48,
                cells: (0..400)
                    .map(|n| PartCell {
                        weighted: if plays(n) { 1.5 } else { 0.0 },
                        lows: if plays(n) { [0.6 * level, 0.8 * level] } else { [0.0; 2] },
                        ..PartCell::default()
                    })
                    .collect(),
                ..PartTrack::default()
            };
            let late = at as f64 - 100.0;
            let stray =
                Stray { at_s: 1e-3 * at as f64, late_ms: late, offset_ms: late, hit: Some(0) };
            Moving {
                powers: track.cells.iter().map(|cell| cell.weighted).collect(),
                events: vec![Event { cell: at as f64, late, offset: late, hit: 0 }],
                wave: Some(Wave::new(&track, 0, &[stray])),
            }
        })
    }

    /// Closed form: apart both have their own power; together the waves add up to four times one, or to
    /// nothing, and the rest to twice.
    #[test]
    fn waves_that_meet_add_up_or_cancel() {
        for (turned, together) in [(false, 4.0 + 1.0), (true, 1.0)] {
            let parts = pair(turned);
            let sum = |without| {
                let mut pile = Pile::default();
                parts.iter().for_each(|part| pile.add(part, without));
                pile.sum()
            };
            let near = |got: f32, want: f32| (got - want).abs() < 1e-5;
            let (now, then) = (sum(Without::Nothing), sum(Without::Both));
            assert!(near(now[115], 1.5) && near(now[155], 1.5) && near(now[180], 0.0));
            assert!(near(then[115], together) && near(then[155], 0.0), "{turned}: {}", then[115]);
        }
    }

    /// A part that is taken out again leaves what was there before, whatever it met.
    #[test]
    fn what_is_taken_out_was_never_there() {
        let [first, second] = pair(true);
        let mut pile = Pile::default();
        pile.add(&first, Without::Nothing);
        let alone = pile.sum();
        pile.add(&second, Without::Nothing);
        pile.take_out(&second);
        assert_eq!(pile.sum(), alone);
        let plain = Moving { wave: None, ..second };
        pile.add(&plain, Without::Nothing);
        pile.take_out(&plain);
        assert_eq!(pile.sum(), alone);
    }
}

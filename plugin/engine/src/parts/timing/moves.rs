//! What looseness costs: the shared hits as they are against the same with parts moved.

use super::shifted::shifted;
use crate::Cost;
use crate::parts::sum::{contrasts_db, percentile};

/// A part's powers and its events that others share.
#[derive(Clone, Debug, Default)]
pub(crate) struct Moving {
    /// Weighted power of each cell.
    pub(crate) powers: Vec<f32>,
    /// Its shared onsets, in order of time.
    pub(crate) events: Vec<Event>,
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
    fn by(self, event: &Event) -> f64 {
        match self {
            Self::Nothing => 0.0,
            Self::Spread => event.offset - event.late,
            Self::Offset => -event.offset,
            Self::Both => -event.late,
        }
    }
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

/// The parts `moving` with something taken away from those that `which` names, over a `still` sum
/// of what does not move. `hits`: cell of each hit of the reference, and whether that plays itself.
pub(crate) fn version(
    moving: &[Moving],
    still: &[f32],
    hits: &[(f64, bool)],
    without: Without,
    which: impl Fn(usize) -> bool,
) -> Version {
    let mut sum = still.to_vec();
    let mut onsets: Vec<Vec<f64>> =
        hits.iter().map(|&(cell, plays)| if plays { vec![cell] } else { Vec::new() }).collect();
    for (index, part) in moving.iter().enumerate() {
        let without = if which(index) { without } else { Without::Nothing };
        if sum.len() < part.powers.len() {
            sum.resize(part.powers.len(), 0.0);
        }
        let mut moves = Vec::with_capacity(part.events.len());
        for event in &part.events {
            let by = without.by(event);
            moves.push((event.cell, by));
            onsets[event.hit].push((event.cell + by).max(0.0));
        }
        if moves.iter().all(|&(_, by)| by == 0.0) {
            sum.iter_mut().zip(&part.powers).for_each(|(sum, power)| *sum += power);
        } else {
            let moved = shifted(&part.powers, &moves);
            sum.iter_mut().zip(&moved).for_each(|(sum, power)| *sum += power);
        }
    }
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
        let moving =
            [Moving { powers: drums, events: Vec::new() }, Moving { powers: part, events }];
        let read = |without| version(&moving, &[], &hits, without, |_| true).contrasts_db();
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
        });
        let read = version(&parts, &[], &[(50.5, false)], Without::Nothing, |_| true).levels_db();
        let want = 10.0 * (2.0 * energy(10.0) / 10.0).log10();
        assert!((read[0] - want).abs() < 0.01, "{} dB, expected {want}", read[0]);
    }
}

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

/// The sum of parts, and when each hit starts in it.
pub(crate) struct Version {
    sum: Vec<f32>,
    /// First and last onset of each hit, cells.
    spans: Vec<(u64, u64)>,
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
    let mut spans: Vec<(f64, f64)> = hits
        .iter()
        .map(|&(cell, plays)| if plays { (cell, cell) } else { (f64::INFINITY, f64::NEG_INFINITY) })
        .collect();
    for (index, part) in moving.iter().enumerate() {
        let without = if which(index) { without } else { Without::Nothing };
        if sum.len() < part.powers.len() {
            sum.resize(part.powers.len(), 0.0);
        }
        let mut moves = Vec::with_capacity(part.events.len());
        for event in &part.events {
            let by = without.by(event);
            moves.push((event.cell, by));
            let span = &mut spans[event.hit];
            *span = (span.0.min(event.cell + by), span.1.max(event.cell + by));
        }
        if without == Without::Nothing {
            sum.iter_mut().zip(&part.powers).for_each(|(sum, power)| *sum += power);
        } else {
            let moved = shifted(&part.powers, &moves);
            sum.iter_mut().zip(&moved).for_each(|(sum, power)| *sum += power);
        }
    }
    let spans = spans
        .into_iter()
        .zip(hits)
        .map(|((first, last), hit)| if first <= last { (first, last) } else { (hit.0, hit.0) })
        .map(|(first, last)| (first.max(0.0) as u64, last.max(0.0) as u64))
        .collect();
    Version { sum, spans }
}

impl Version {
    /// Level of each hit, dB: the loudest 10 ms from its first onset to 30 ms behind its last.
    pub(crate) fn levels_db(&self) -> Vec<f64> {
        self.spans
            .iter()
            .map(|&(first, last)| {
                let most = (first..=last + 20)
                    .map(|from| {
                        let from = (from as usize).min(self.sum.len());
                        let to = (from + 10).min(self.sum.len());
                        self.sum[from..to].iter().sum::<f32>()
                    })
                    .fold(0.0, f32::max);
                10.0 * f64::from(most / 10.0).max(1e-12).log10()
            })
            .collect()
    }

    /// Hit contrast of each hit, dB.
    pub(crate) fn contrasts_db(&self) -> Vec<f64> {
        let starts: Vec<u64> = self.spans.iter().map(|span| span.0).collect();
        contrasts_db(&self.sum, &starts)
    }
}

/// What comes back from `now` to `then`, a value a hit each: mean and its 90 % range from
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

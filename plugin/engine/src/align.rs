//! How main and side-chain lie to each other in time: their relation and the delay between them.
//!
//! A coarse search over +-500 ms on decimated streams proposes a lag; a fine look around it gives
//! the delay to a fraction of a frame and says how alike the streams are there. The relation is
//! decided by the fine look alone: a repeat of the same drum makes a high peak in the coarse
//! search, but only one programme is like another over most of its power and most of its bands.

mod coarse;
mod decimate;
mod fine;
mod pair;
mod ring;
mod whole;

pub(crate) use ring::Ring;
pub use whole::align_whole;

use crate::thresholds::align as t;
use crate::true_peak::sample_peak;
use crate::{Alignment, MAX_CHANNELS, Relation};
use coarse::{Coarse, Peak};
use decimate::Decimator;
use fine::{BANDS, Estimate, Fine};

/// Follows the delay between two streams. A cell of work is bounded; nothing allocates after
/// [`Aligner::new`].
#[derive(Debug)]
pub(crate) struct Aligner {
    rate_hz: f64,
    step: usize,
    decimators: [Decimator; 2],
    coarse: Coarse,
    fine: Fine,
    mono: [Ring; 2],
    sums: [Box<[f32]>; 2],
    kept: [Box<[f32]>; 2],
    /// Whether a lag is under watch.
    aimed: bool,
    /// Whether the coarse search has its turn in this cell, or the fine look: a short block then has
    /// one stage of each at most.
    coarse_turn: bool,
    /// Cells since the side-chain last carried anything.
    silent: u64,
    /// Cells with signal since the relation was last found.
    unrelated: u64,
    cell_s: f64,
    alignment: Alignment,
    /// Estimates in a row that were like enough.
    agreed: u32,
    /// Cells with signal since the relation holds without a break.
    held: u64,
}

/// Estimates in a row that a relation takes.
const AGREED: u32 = 2;
/// Silence of the side-chain after which the search rests, s.
const REST_S: f64 = 2.0;

impl Aligner {
    /// `cell_frames`: frames in a cell. Allocates.
    pub(crate) fn new(rate_hz: f64, cell_frames: usize) -> Self {
        let step = ((rate_hz / t::COARSE_HZ).round() as usize).max(1);
        let reach = (t::ALIGN_REACH_S * rate_hz) as usize;
        // Blocks end up to a block late, and the tracked lag may move a little past the reach. What
        // lies further back lets a new lag be judged at once.
        let back = (t::LOOK_BACK_S * rate_hz) as usize;
        let room = reach + back + 4 * fine::block_frames(rate_hz);
        Self {
            rate_hz,
            step,
            decimators: std::array::from_fn(|_| Decimator::new(step, cell_frames)),
            coarse: Coarse::new(rate_hz / step as f64, 2.0 * cell_frames as f64 / rate_hz),
            fine: Fine::new(rate_hz),
            mono: std::array::from_fn(|_| Ring::new(room)),
            sums: std::array::from_fn(|_| vec![0.0; cell_frames].into()),
            kept: std::array::from_fn(|_| vec![0.0; cell_frames].into()),
            aimed: false,
            coarse_turn: false,
            silent: u64::MAX,
            unrelated: 0,
            cell_s: cell_frames as f64 / rate_hz,
            alignment: Alignment::default(),
            agreed: 0,
            held: 0,
        }
    }

    /// What is known of the relation.
    pub(crate) fn alignment(&self) -> &Alignment {
        &self.alignment
    }

    /// Starts from a delay that is known to hold, such as one found over a whole file: main behind
    /// side, frames. It is followed as if it had been found.
    pub(crate) fn assume(&mut self, delay_frames: f64) {
        self.watch(delay_frames.round() as i64);
        self.alignment = Alignment {
            relation: Relation::Found,
            likeness: None,
            inverted: false,
            ..self.at(delay_frames)
        };
    }

    /// Puts a lag under watch without taking a relation for granted.
    fn watch(&mut self, lag: i64) {
        self.aimed = true;
        self.fine.aim(lag, self.mono[0].oldest());
    }

    /// Takes one cell of both streams, a slice a channel. The largest pieces of the work wait until
    /// they `may` be done; gives whether one was.
    #[inline(never)]
    pub(crate) fn cell(
        &mut self,
        main: [&[f32]; MAX_CHANNELS],
        side: [&[f32]; MAX_CHANNELS],
        may: bool,
    ) -> bool {
        let frames = main[0].len();
        let mut sounds = [false; 2];
        for (stream, [left, right]) in [main, side].into_iter().enumerate() {
            let sum = &mut self.sums[stream][..frames];
            for ((out, l), r) in sum.iter_mut().zip(left).zip(right) {
                *out = l + r;
            }
            let peak = sample_peak(sum);
            sounds[stream] = peak * peak > 0.0;
            self.mono[stream].push(sum);
        }
        if sounds[1] {
            if self.silent as f64 * self.cell_s > REST_S {
                self.start_search();
                // The pause would be walked through block by block.
                self.fine.leave_out_before(self.mono[0].oldest());
            }
            self.silent = 0;
        } else {
            self.silent = self.silent.saturating_add(1);
            if self.silent as f64 * self.cell_s > REST_S {
                return false;
            }
        }
        if sounds[0] && sounds[1] {
            self.unrelated += 1;
        }
        self.coarse_turn = !self.coarse_turn;
        let holds = self.alignment.relation == Relation::Found && self.agreed >= AGREED;
        if self.must_search(holds, sounds == [true; 2]) {
            self.search(frames, holds);
        }
        let heavy = self.fine.is_heavy();
        // A lag that has just come under watch is judged by what is kept: it has to catch up.
        let behind = self.fine.is_behind(&self.mono[0]);
        let fine_turn = self.aimed && (behind || (!self.coarse_turn && (may || !heavy)));
        if fine_turn && let Some(estimate) = self.fine.turn(&self.mono[0], &self.mono[1]) {
            self.judge(&estimate);
        }
        if self.alignment.relation == Relation::Unknown
            && self.unrelated as f64 * self.cell_s > t::UNRELATED_S
        {
            self.alignment.relation = Relation::None;
        }
        fine_turn && heavy
    }

    /// Whether the coarse search goes on: where a lag has held, the fine look alone watches over it, but
    /// for a look around now and then.
    fn must_search(&mut self, holds: bool, sounds: bool) -> bool {
        let rested = self.rests();
        self.held = if holds { self.held + u64::from(sounds) } else { 0 };
        let rests = self.rests();
        if rested && !rests {
            self.start_search();
        }
        !rests
    }

    fn rests(&self) -> bool {
        let held_s = self.held as f64 * self.cell_s;
        held_s % (t::SEARCH_S + t::SEARCH_RESTS_S) >= t::SEARCH_S
    }

    fn start_search(&mut self) {
        self.coarse.reset();
        self.decimators.iter_mut().for_each(Decimator::reset);
    }

    /// A cell of the coarse search.
    fn search(&mut self, frames: usize, holds: bool) {
        let mut kept = 0;
        for stream in 0..2 {
            kept = 0;
            let out = &mut self.kept[stream];
            self.decimators[stream].process(&self.sums[stream][..frames], |x| {
                out[kept] = x;
                kept += 1;
            });
        }
        for n in 0..kept {
            self.coarse.push(self.kept[0][n], self.kept[1][n]);
        }
        let tracked = self.aimed.then(|| (self.fine.delay() / self.step as f64) as f32);
        if self.coarse_turn
            && let Some(peak) = self.coarse.turn(tracked, holds)
            // What holds gives way to nothing that was heard for a moment only.
            && (!holds || self.coarse.is_settled())
        {
            self.look_at(peak);
        }
    }

    /// Turns to the lag of a coarse peak where it stands out and is another than the one under
    /// watch.
    fn look_at(&mut self, peak: Peak) {
        if peak.height < t::COARSE_PEAK_OVER_RMS * peak.rms {
            return;
        }
        let lag = (f64::from(peak.lag) * self.step as f64).round() as i64;
        let far = (lag as f64 - self.fine.delay()).abs() > 8.0 * self.step as f64;
        if !self.aimed || (far && peak.height > t::COARSE_RIVAL * peak.tracked) {
            self.aimed = true;
            self.agreed = 0;
            self.fine.aim(lag, self.mono[0].oldest());
        }
    }

    fn judge(&mut self, estimate: &Estimate) {
        if estimate.blocks < t::FOUND_LEAST_BLOCKS {
            return;
        }
        let likeness = f64::from(estimate.share.min(median(&estimate.bands)));
        self.alignment.likeness = Some(likeness);
        let near = estimate.delay.abs() <= (t::ALIGN_REACH_S + 1e-3) * self.rate_hz;
        if likeness >= t::FOUND_LIKENESS && near {
            self.agreed += 1;
        } else {
            self.agreed = 0;
        }
        let held = self.alignment.relation == Relation::Found
            && likeness >= t::GIVEN_UP_LIKENESS
            && self.alignment.delay_frames.is_some_and(|at| (at - estimate.delay).abs() < 2.0);
        if self.agreed >= AGREED || held {
            self.unrelated = 0;
            self.alignment = Alignment {
                relation: Relation::Found,
                likeness: Some(likeness),
                inverted: estimate.inverted,
                ..self.at(estimate.delay)
            };
        } else if self.alignment.relation == Relation::Found
            && self.unrelated as f64 * self.cell_s > t::UNRELATED_S
        {
            self.alignment = Alignment { likeness: Some(likeness), ..Alignment::default() };
        }
    }

    fn at(&self, delay_frames: f64) -> Alignment {
        Alignment {
            delay_frames: Some(delay_frames),
            delay_ms: Some(delay_frames / self.rate_hz * 1e3),
            ..Alignment::default()
        }
    }

    pub(crate) fn reset(&mut self) {
        self.start_search();
        self.held = 0;
        self.mono.iter_mut().for_each(Ring::reset);
        self.fine.aim(0, 0);
        self.aimed = false;
        self.coarse_turn = false;
        self.silent = u64::MAX;
        self.unrelated = 0;
        self.agreed = 0;
        self.alignment = Alignment::default();
    }
}

/// Median of the bands that are known; 0 of none.
fn median(bands: &[Option<f32>; BANDS]) -> f32 {
    let mut known = [0.0f32; BANDS];
    let mut count = 0;
    for band in bands.iter().flatten() {
        known[count] = *band;
        count += 1;
    }
    let known = &mut known[..count];
    known.sort_unstable_by(f32::total_cmp);
    match count {
        0 => 0.0,
        n if n % 2 == 1 => known[n / 2],
        n => (known[n / 2 - 1] + known[n / 2]) / 2.0,
    }
}

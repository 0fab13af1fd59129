//! From reduction to state and cost.

use super::model::Estimate;
use super::reading::Reading;
use crate::thresholds as t;
use crate::{Ceiling, CeilingKind, Cost, Need, State, Thresholds};

/// Judges one reading after the other. What it said last makes it slow to change its mind: near a
/// limit the state would flicker.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Verdict {
    limited: bool,
    /// Whether it said that at least so much is gone.
    at_least: bool,
    /// Whether it said that there is no ceiling.
    free: bool,
    clipped: bool,
    state: State,
}

impl Verdict {
    pub(super) fn judge(&mut self, reading: &Reading, limits: &Thresholds) -> Ceiling {
        let estimate = &reading.estimate;
        let stays = |on: bool| if on { t::ODDS_STAY } else { 0.0 };
        // Of hits that the fit has seen nothing like, the odds say nothing.
        let strange = estimate.unlike > t::UNLIKE_MOST;
        // Hits that are copies end at one height with and without a limiter.
        self.limited =
            !reading.copies && !strange && estimate.odds >= t::LIMITED_ODDS - stays(self.limited);
        self.free = !self.limited && !strange && estimate.odds < t::UNTOLD_ODDS + stays(self.free);
        // Peaks that low over the loudness tell how deep a limiter is driven, and not whether there is
        // one: a saturated guitar alone has such peaks, too.
        self.at_least = self.limited && estimate.is_deep(self.at_least);
        let limited = self.limited;
        let share = if self.clipped { t::CLIPPED_STAY_SHARE } else { t::CLIPPED_SHARE };
        self.clipped = reading.flat as f64 > share * reading.at_top as f64;
        // Between the two the hits do not tell: much may be gone, and nothing as well.
        // So do odds that say free where the estimate would cost what makes a leak.
        let little = cost(estimate, (0.0, 0.0), CeilingKind::None).db < limits.watch_db;
        let told = limited || (self.free && little);
        let need = match (told, strange) {
            (true, _) => Need::Nothing,
            (false, true) => Need::Alike,
            (false, false) => Need::Evidence,
        };
        let kind = match (limited, told) {
            (false, false) => None,
            (false, true) => Some(CeilingKind::None),
            (true, _) if self.clipped => Some(CeilingKind::Clipper),
            (true, _) => Some(CeilingKind::Limiter),
        };
        let range = estimate.range(self.at_least);
        let cost = kind.map(|kind| cost(estimate, range, kind));
        self.state = match cost {
            None => State::Unknown,
            Some(_) if !limited => State::Clear,
            Some(cost) => self.state_of(&cost, estimate, limits),
        };
        Ceiling {
            state: self.state,
            need,
            cost,
            implied_reduction_db: Some(estimate.median[1]),
            implied_reduction_p90_db: Some(estimate.p90[1]),
            implied_reduction_max_db: Some(estimate.most),
            implied_reduction_range_db: Some(range),
            at_least: self.at_least,
            unlike: Some(estimate.unlike),
            ceiling_dbtp: limited.then_some(reading.ceiling_dbtp),
            hits_at_ceiling: Some(if limited { reading.at_ceiling } else { 0 }),
            kind,
            measured: false,
        }
    }

    fn state_of(&self, cost: &Cost, estimate: &Estimate, limits: &Thresholds) -> State {
        let hold = |on: bool| if on { t::STATE_HOLD_DB } else { 0.0 };
        let leaking = limits.leaking_db - hold(self.state == State::Leaking);
        let seen = self.state.loses();
        let watch = limits.watch_db - hold(seen);
        if cost.high_db < watch {
            State::Clear
        } else if t::reaches(cost.db, leaking) {
            State::Leaking
        } else if t::reaches(cost.db, watch)
            || estimate.p90[1] >= t::CATCHES_LOUDEST_DB - hold(seen)
        {
            State::Watch
        } else {
            State::Clear
        }
    }
}

/// What the reduction costs in hit contrast.
fn cost(estimate: &Estimate, range: (f64, f64), kind: CeilingKind) -> Cost {
    let share = match kind {
        CeilingKind::Clipper => t::CLIPPER_COST_SHARE,
        CeilingKind::Limiter | CeilingKind::None => t::LIMITER_COST_SHARE,
    };
    let mean = estimate.mean();
    // The range of the median goes over to the mean, and the share has its own.
    let low = (mean + range.0 - estimate.median[1]).max(0.0);
    let high = mean + range.1 - estimate.median[1];
    Cost {
        db: mean * share,
        low_db: low * share * t::COST_SHARE_RANGE.0,
        high_db: high * share * t::COST_SHARE_RANGE.1,
    }
}

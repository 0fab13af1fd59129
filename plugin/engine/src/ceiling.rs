//! The ceiling leak: what a limiter or clipper takes from the hits, told from the mix alone.
//!
//! Every hit leaves a trace. The traces of the last [`WINDOW`] hits give the evidence, the model
//! turns it into a reduction with its range, and the readings average that over the programme.

mod evidence;
mod model;
#[rustfmt::skip]
#[allow(clippy::approx_constant, reason = "fitted numbers, near a constant by chance")]
mod weights;

pub use evidence::{EVIDENCE, EVIDENCE_NAMES};

use evidence::{Trace, evidence};
use model::{Estimate, estimate};

use crate::contrast::quantile;
use crate::hits::MeasuredHit;
use crate::thresholds as t;
use crate::{Ceiling, CeilingKind, Cost, Loudness, Need, State, Thresholds};

/// Hits that the estimate looks back on: about eight bars of a rock beat.
const WINDOW: usize = 64;

/// Estimates what a limiter or clipper takes from the hits.
#[derive(Clone, Debug)]
pub(crate) struct CeilingMeter {
    traces: [Trace; WINDOW],
    count: u64,
    scratch: [f64; WINDOW],
    /// What the present window says.
    window: Option<WindowReading>,
    /// Hits at which the window was last read.
    read_at: u64,
    /// Sums of the estimates, each weighted by the hits that are new in its window.
    sums: Estimate,
    weight: f64,
    /// Hits at the ceiling, and those of them with a flat top.
    at_ceiling: u64,
    flat: u64,
}

/// What a window of hits says.
#[derive(Clone, Copy, Debug)]
struct WindowReading {
    estimate: Estimate,
    /// Level at which peaks would be pinned, dBTP: their 97th percentile.
    ceiling_dbtp: f64,
}

impl CeilingMeter {
    pub(crate) fn new() -> Self {
        Self {
            traces: [Trace::default(); WINDOW],
            count: 0,
            scratch: [0.0; WINDOW],
            window: None,
            read_at: 0,
            sums: Estimate::default(),
            weight: 0.0,
            at_ceiling: 0,
            flat: 0,
        }
    }

    /// Takes note of a hit; gives its lost peak, dB, as the window before it tells.
    pub(crate) fn hit(&mut self, measured: &MeasuredHit) -> Option<f64> {
        let trace = Trace::new(measured);
        let lost = self.window.map(|window| {
            if trace.peak_db() >= window.ceiling_dbtp - t::AT_CEILING_DB {
                self.at_ceiling += 1;
                self.flat += u64::from(trace.flat());
            }
            window.estimate.at(self.rank(&trace, window.ceiling_dbtp)) * t::LOST_SHARE
        });
        self.traces[(self.count % WINDOW as u64) as usize] = trace;
        self.count += 1;
        lost
    }

    /// The evidence of the last hits; `None` while there are too few.
    pub(crate) fn evidence(&mut self, loudness: &Loudness) -> Option<[f32; EVIDENCE]> {
        if self.count < u64::from(t::CEILING_LEAST_HITS) {
            return None;
        }
        let kept = self.kept();
        Some(evidence(&self.traces[..kept], loudness, &mut self.scratch))
    }

    /// Reads the leak. The work is done only when there are new hits.
    pub(crate) fn read(&mut self, loudness: &Loudness, limits: &Thresholds) -> Ceiling {
        if self.count != self.read_at
            && let Some(evidence) = self.evidence(loudness)
        {
            self.take(estimate(&evidence));
        }
        let Some(window) = self.window else {
            let have = self.count.min(u64::from(u32::MAX)) as u32;
            let need = Need::Hits { have, want: t::CEILING_LEAST_HITS };
            return Ceiling { need, ..Ceiling::default() };
        };
        let over = |sums: [f64; 3]| sums.map(|sum| sum / self.weight);
        let whole = Estimate {
            median: over(self.sums.median),
            p90: over(self.sums.p90),
            most: self.sums.most / self.weight,
        };
        let limited = whole.p90[0] >= t::LIMITED_P90_LOW_DB;
        let kind = match limited {
            false => CeilingKind::None,
            true if 2 * self.flat > self.at_ceiling => CeilingKind::Clipper,
            true => CeilingKind::Limiter,
        };
        let cost = cost(&whole, kind);
        let state = if !limited || cost.high_db < limits.watch_db {
            State::Clear
        } else if cost.db >= limits.leaking_db {
            State::Leaking
        } else if cost.db >= limits.watch_db || whole.p90[1] >= t::CATCHES_LOUDEST_DB {
            State::Watch
        } else {
            State::Clear
        };
        Ceiling {
            state,
            need: Need::Nothing,
            cost: Some(cost),
            implied_reduction_db: Some(whole.median[1]),
            implied_reduction_p90_db: Some(whole.p90[1]),
            implied_reduction_max_db: Some(whole.most),
            implied_reduction_range_db: Some((whole.median[0], whole.median[2])),
            ceiling_dbtp: limited.then_some(window.ceiling_dbtp),
            hits_at_ceiling: Some(if limited { self.at_ceiling } else { 0 }),
            kind: Some(kind),
        }
    }

    fn take(&mut self, estimate: Estimate) {
        let kept = self.kept();
        let peaks = &mut self.scratch[..kept];
        for (peak, trace) in peaks.iter_mut().zip(&self.traces) {
            *peak = trace.peak_db();
        }
        peaks.sort_unstable_by(f64::total_cmp);
        self.window = Some(WindowReading { estimate, ceiling_dbtp: quantile(peaks, 0.97) });
        let weight = (self.count - self.read_at) as f64;
        self.read_at = self.count;
        self.weight += weight;
        for end in 0..3 {
            self.sums.median[end] += weight * estimate.median[end];
            self.sums.p90[end] += weight * estimate.p90[end];
        }
        self.sums.most += weight * estimate.most;
    }

    /// Share of the window's hits that lose less than this one: by height under the ceiling, and
    /// by level among those at it, since there the height says nothing.
    fn rank(&self, trace: &Trace, ceiling_dbtp: f64) -> f64 {
        let pinned = |t: &Trace| t.peak_db() >= ceiling_dbtp - t::AT_CEILING_DB;
        let kept = &self.traces[..self.kept()];
        let under = kept.iter().filter(|other| match (pinned(other), pinned(trace)) {
            (true, true) => other.level_db() < trace.level_db(),
            (false, true) => true,
            (true, false) => false,
            (false, false) => other.peak_db() < trace.peak_db(),
        });
        (under.count() as f64 + 0.5) / (kept.len() as f64 + 1.0)
    }

    fn kept(&self) -> usize {
        self.count.min(WINDOW as u64) as usize
    }

    pub(crate) fn reset(&mut self) {
        *self = Self::new();
    }
}

/// What the reduction costs in hit contrast.
fn cost(whole: &Estimate, kind: CeilingKind) -> Cost {
    let share = match kind {
        CeilingKind::Clipper => t::CLIPPER_COST_SHARE,
        CeilingKind::Limiter | CeilingKind::None => t::LIMITER_COST_SHARE,
    };
    let mean = whole.mean();
    // The range of the median goes over to the mean, and the share has its own.
    let low = (mean + whole.median[0] - whole.median[1]).max(0.0);
    let high = mean + whole.median[2] - whole.median[1];
    Cost {
        db: mean * share,
        low_db: low * share * t::COST_SHARE_RANGE.0,
        high_db: high * share * t::COST_SHARE_RANGE.1,
    }
}

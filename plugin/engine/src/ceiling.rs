//! The ceiling leak.

mod evidence;

pub use evidence::{EVIDENCE, EVIDENCE_NAMES};
use evidence::{Trace, evidence};

use crate::hits::MeasuredHit;
use crate::thresholds as t;
use crate::{Ceiling, Loudness, Need, Thresholds};

/// Hits that the estimate looks back on: about eight bars of a rock beat.
const WINDOW: usize = 64;

/// Estimates what a limiter or clipper takes from the hits.
#[derive(Clone, Debug)]
pub(crate) struct CeilingMeter {
    traces: [Trace; WINDOW],
    count: u64,
    scratch: [f64; WINDOW],
}

impl CeilingMeter {
    pub(crate) fn new() -> Self {
        Self { traces: [Trace::default(); WINDOW], count: 0, scratch: [0.0; WINDOW] }
    }

    pub(crate) fn hit(&mut self, measured: &MeasuredHit) -> Option<f64> {
        self.traces[(self.count % WINDOW as u64) as usize] = Trace::new(measured);
        self.count += 1;
        None
    }

    /// The evidence of the last hits; `None` while there are too few.
    pub(crate) fn evidence(&mut self, loudness: &Loudness) -> Option<[f32; EVIDENCE]> {
        if self.count < u64::from(t::CEILING_LEAST_HITS) {
            return None;
        }
        let kept = self.count.min(WINDOW as u64) as usize;
        Some(evidence(&self.traces[..kept], loudness, &mut self.scratch))
    }

    pub(crate) fn read(&mut self, _: &Loudness, _: &Thresholds) -> Ceiling {
        let have = self.count.min(u64::from(u32::MAX)) as u32;
        Ceiling { need: Need::Hits { have, want: t::CEILING_LEAST_HITS }, ..Ceiling::default() }
    }

    pub(crate) fn reset(&mut self) {
        self.count = 0;
    }
}

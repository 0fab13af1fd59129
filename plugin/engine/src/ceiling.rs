//! The ceiling leak.

use crate::hits::MeasuredHit;
use crate::{Ceiling, Loudness, Thresholds};

/// Estimates what a limiter or clipper takes from the hits.
#[derive(Clone, Debug)]
pub(crate) struct CeilingMeter;

impl CeilingMeter {
    pub(crate) fn new() -> Self {
        Self
    }

    pub(crate) fn hit(&mut self, _: &MeasuredHit) -> Option<f64> {
        None
    }

    pub(crate) fn read(&self, _: &Loudness, _: &Thresholds) -> Ceiling {
        Ceiling::default()
    }

    pub(crate) fn reset(&mut self) {}
}

//! Where a meter puts what it gives out while it runs.

use crate::{HistoryPoint, Hit};

/// Takes hits and history points from [`Meter::process`](crate::Meter::process), on the thread
/// that calls it. On an audio thread an implementation must not allocate, lock or block.
pub trait Sink {
    /// A hit whose surroundings are now known, in order of time.
    fn hit(&mut self, hit: &Hit) {
        let _ = hit;
    }

    /// A point of the history, every 100 ms of programme.
    fn history(&mut self, point: &HistoryPoint) {
        let _ = point;
    }
}

/// Drops everything.
impl Sink for () {}

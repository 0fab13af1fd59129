//! Where a meter puts what it gives out while it runs.

use crate::{HistoryPoint, Hit, HitBands, HitShape, HitWave, ShapeStats};

/// The K-weighted energy of 10 ms of main bus and side-chain: what any loudness over a passage is
/// summed from (ITU-R BS.1770-5).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hop {
    /// First frame, counted from the last reset.
    pub start_frame: u64,
    /// Frames.
    pub frames: usize,
    /// Sum of the K-weighted squares of the main bus, over frames and channels.
    pub main_energy: f64,
    /// Sum of the squares of its low, mid and high band, unweighted, over frames and channels, of the
    /// milliseconds that began in the hop.
    pub main_bands: [f64; 3],
    /// The same of the side-chain; 0 without one.
    pub side_energy: f64,
}

/// Takes hits, history points and hops from [`Meter::process`](crate::Meter::process), on the thread
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

    /// The shape of a hit, of the main bus or of the side-chain, some 0.3 s after its onset or later,
    /// for each bus in order of time.
    fn shape(&mut self, shape: &HitShape) {
        let _ = shape;
    }

    /// The waveform of a hit of the main bus, about as late.
    fn wave(&mut self, wave: &HitWave) {
        let _ = wave;
    }

    /// The spectrum of a hit of the main bus over its surroundings, about as late.
    fn bands(&mut self, bands: &HitBands) {
        let _ = bands;
    }

    /// The energy of a hop, every 10 ms of programme, at most 1 ms after its end.
    fn hop(&mut self, hop: &Hop) {
        let _ = hop;
    }
}

/// Drops everything.
impl Sink for () {}

/// Keeps every hit. It allocates: for files, not for an audio thread.
impl Sink for Vec<Hit> {
    fn hit(&mut self, hit: &Hit) {
        self.push(*hit);
    }
}

/// Gathers the shapes of the main bus's hits.
impl Sink for ShapeStats {
    fn shape(&mut self, shape: &HitShape) {
        if !shape.side {
            self.add(shape);
        }
    }
}

//! What is kept of an analysis while it runs.

use brunt_engine::parts::levels::{Stretch, Stretches};
use brunt_engine::{BandStats, HistoryPoint, Hit, HitBands, HitShape, Hop, ShapeStats, Sink};
use brunt_report::report::{PunchReport, ShapeReport, SpectrumReport, Timeline};

/// Keeps every hit, the history thinned, and the hits' shape and spectrum.
#[derive(Default)]
pub(crate) struct Kept {
    pub(crate) hits: Vec<Hit>,
    pub(crate) timeline: Timeline,
    pub(crate) shape: ShapeStats,
    /// Shape of each hit of the mix.
    pub(crate) shapes: Vec<HitShape>,
    pub(crate) bands: BandStats,
    /// Shape over the side-chain's hits.
    pub(crate) side_shape: ShapeStats,
    /// How loud the mix is.
    pub(crate) levels: Vec<Stretch>,
    open: Stretches,
}

impl Kept {
    /// Adds the hits' shape and spectrum to a report's punch.
    pub(crate) fn add_to(&self, punch: &mut PunchReport) {
        punch.shape = ShapeReport::of(&self.shape);
        punch.spectrum = SpectrumReport::of(&self.bands);
    }
}

impl Sink for Kept {
    fn hit(&mut self, hit: &Hit) {
        self.hits.push(*hit);
    }

    fn hop(&mut self, hop: &Hop) {
        self.levels.extend(self.open.hop(hop, hop.start_frame as i64));
    }

    fn shape(&mut self, shape: &HitShape) {
        if shape.side {
            self.side_shape.add(shape);
        } else {
            self.shape.add(shape);
            self.shapes.push(*shape);
        }
    }

    fn bands(&mut self, bands: &HitBands) {
        self.bands.add(bands);
    }

    fn history(&mut self, point: &HistoryPoint) {
        self.timeline.add(point);
    }
}

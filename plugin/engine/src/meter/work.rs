//! What is too dear for every cell: one piece at a time, with a rest between two.

use super::{APART, Meter, READINGS_HOPS};
use crate::shape::Turn;
use crate::{SideRole, Sink};

impl Meter {
    /// Whether heavy work may be done now: none was of late, and the next cell brings no readings
    /// up to date.
    pub(super) fn may(&self) -> bool {
        let ends_hop = self.hop.frames - self.hop.filled <= self.intake.capacity();
        self.rest == 0 && !(ends_hop && self.hops_to_point <= READINGS_HOPS)
    }

    /// Does one piece of what is too dear for every cell, where there is any and no other was done
    /// of late.
    pub(super) fn heavy_work(&mut self, sink: &mut dyn Sink) {
        if !self.may() {
            return;
        }
        let worked = if let Some(measured) = self.comparison.ready(&self.hits, false) {
            sink.hit(&measured.hit);
            true
        } else if let Some(measured) = self.measured.take() {
            self.give(measured, sink);
            true
        } else if self.hits.has_work(&self.cells) {
            self.measured = self.hits.work(&self.cells);
            true
        } else {
            // The ceiling first: what it reads depends on which hits are there when it is done. Shapes go
            // before it where the second of memory that they are read from runs out, and spectra take
            // turns with it where theirs does.
            (self.ceiling.is_behind() && self.ceiling.work())
                || self.shape_work(Turn::Late, sink)
                || self.band_turn(sink)
                || self.ceiling.work()
                || self.shape_work(Turn::Free, sink)
                || self.band_work(Turn::Free, sink)
        };
        if worked {
            self.rest = APART;
        }
    }

    /// Does a piece of the work on the hits' shapes; gives whether there was one.
    fn shape_work(&mut self, turn: Turn, sink: &mut dyn Sink) -> bool {
        if self.shapes.has_work(&self.cells, turn) {
            self.shapes.work(&self.cells, None, sink);
            return true;
        }
        self.comparison.shape_work(&self.cells, turn, sink)
    }

    /// The same on their spectra.
    fn band_work(&mut self, turn: Turn, sink: &mut dyn Sink) -> bool {
        let there = self.hit_bands.has_work(turn);
        if there {
            self.hit_bands.work(sink);
        }
        there
    }

    /// The same on a spectrum that waits, every other time.
    fn band_turn(&mut self, sink: &mut dyn Sink) -> bool {
        self.bands_had_turn = !self.bands_had_turn && self.band_work(Turn::Late, sink);
        self.bands_had_turn
    }

    /// Sets the cell of the side-chain in the intake beside the main.
    pub(super) fn compare_cell(&mut self) {
        let side = self.intake.side();
        let compared = matches!(self.side_role, SideRole::Reference | SideRole::Before);
        if compared && self.side_spectrum.cell(side, self.may()) {
            self.rest = APART;
        }
        let may = self.may();
        let main = self.intake.main(self.intake.capacity());
        if self.aligner.cell(main, side, may) {
            self.rest = APART;
        }
        let weighted = self.side.squares();
        let alignment = self.aligner.alignment();
        self.comparison.cell(&self.cells, side, weighted, alignment);
    }
}

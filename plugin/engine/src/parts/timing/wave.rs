//! Which way the low ends of parts add up.
//!
//! Different sounds add up in power, but bass and guitars strike together on one note, and its lows last
//! for a stroke's whole attack: whether they lie in step decides up to 6 dB of it. So a part tells its sound
//! under 500 Hz as a wave, a sample a cell ([`PartCell::lows`](crate::parts::PartCell::lows)). Where
//! notes move, the wave moves as audio does when a cost is re-measured ([`retime::audio`]); what of the
//! part's power is not in it adds up as power.

use super::deviation::Stray;
use crate::MAX_CHANNELS;
use crate::parts::retime::{self, Move};
use crate::parts::{PartCell, PartTrack};

/// A part's low end, left and right, a value a cell.
pub(super) type Lows = [Vec<f32>; MAX_CHANNELS];

/// A part's low end and its strokes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wave {
    lows: Lows,
    /// Every stroke, those that nobody shares too: they go with the part.
    strays: Vec<Stray>,
    /// Cells ahead of the part's first one, from which its strokes are counted.
    ahead: usize,
    cell_s: f64,
}

impl Wave {
    /// That of a track which starts `ahead` cells behind the first of all.
    pub(super) fn new(track: &PartTrack, ahead: usize, strays: &[Stray]) -> Self {
        let lows = std::array::from_fn(|side| {
            let mut lows = vec![0.0; ahead];
            lows.extend(track.cells.iter().map(|cell: &PartCell| cell.lows[side]));
            lows
        });
        Self { lows, strays: strays.to_vec(), ahead, cell_s: track.cell_s() }
    }

    /// What of the part's `powers` is not in it.
    pub(super) fn rest(&self, powers: &[f32]) -> Vec<f32> {
        let mut rest = powers.to_vec();
        for lows in &self.lows {
            rest.iter_mut().zip(lows).for_each(|(rest, low)| *rest -= low * low);
        }
        // Of a low note alone rounding leaves a little less than nothing.
        rest.iter_mut().for_each(|rest| *rest = rest.max(0.0));
        rest
    }

    /// It as it came.
    pub(super) fn lows(&self) -> &Lows {
        &self.lows
    }

    /// It with each stroke moved by so many ms, later positive.
    pub(super) fn moved(&self, by_ms: impl Fn(&Stray) -> f64) -> Lows {
        let to = |stray: &Stray| {
            let from_s = self.ahead as f64 * self.cell_s + stray.at_s;
            Move { from_s, to_s: (from_s + 1e-3 * by_ms(stray)).max(0.0) }
        };
        let moves: Vec<Move> = self.strays.iter().map(to).collect();
        if moves.iter().all(|stroke| stroke.from_s == stroke.to_s) {
            return self.lows.clone();
        }
        let mut moved = retime::audio(&self.lows, 1.0 / self.cell_s, &moves);
        std::array::from_fn(|side| std::mem::take(&mut moved[side]))
    }
}

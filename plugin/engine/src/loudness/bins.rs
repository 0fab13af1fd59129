//! Gated statistics of block loudness in flat memory.

use super::{lufs, power_of_lufs};
use crate::thresholds::ABSOLUTE_GATE_LUFS;

/// Width of a bin, LU. Only the blocks of the one bin that a gate cuts can land on its wrong side.
const BIN_LU: f64 = 0.01;
/// Blocks that are also kept one by one, so that a gate is exact while it can matter: with more
/// of them than that (7 minutes of gating blocks), those that one bin holds weigh little.
const EXACT: usize = 4_096;
/// Of those, how many are looked at together.
const STRETCH: usize = 64;
/// Bins a group: a sum over everything above a gate takes whole groups, then single bins.
const GROUP: usize = 100;
/// Groups; the bins reach from the absolute gate to +30 LUFS. Louder blocks, which only samples
/// far over full scale can make, fall into the last bin, their energy intact.
const GROUPS: usize = 100;

/// Number and energy of some blocks.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sum {
    pub(super) count: u64,
    energy: f64,
}

impl Sum {
    fn add(&mut self, other: Self) {
        self.count += other.count;
        self.energy += other.energy;
    }

    /// Mean square of the blocks; `None` without any.
    pub(super) fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.energy / self.count as f64)
    }
}

/// Mean squares of blocks above the absolute gate, sorted into bins by loudness.
///
/// A bin keeps the energy of its blocks, not only their number, so means are exact. The bins only
/// round the place of a gate, and that only in a long programme.
#[derive(Clone, Debug)]
pub(super) struct LevelBins {
    bins: Box<[Sum]>,
    groups: Box<[Sum]>,
    all: Sum,
    gate: f64,
    /// The first blocks: the bin of each, and its mean square.
    first_bins: Box<[u16]>,
    first: Box<[f64]>,
}

impl LevelBins {
    pub(super) fn new() -> Self {
        Self {
            bins: vec![Sum::default(); GROUP * GROUPS].into(),
            groups: vec![Sum::default(); GROUPS].into(),
            all: Sum::default(),
            gate: power_of_lufs(ABSOLUTE_GATE_LUFS),
            first_bins: vec![0; EXACT].into(),
            first: vec![0.0; EXACT].into(),
        }
    }

    /// Counts a block, unless it lies under the absolute gate.
    pub(super) fn push(&mut self, power: f64) {
        if power <= self.gate {
            return;
        }
        let bin = bin_of(power);
        let block = Sum { count: 1, energy: power };
        let place = self.all.count as usize;
        if place < EXACT {
            self.first_bins[place] = bin as u16;
            self.first[place] = power;
        }
        self.bins[bin].add(block);
        self.groups[bin / GROUP].add(block);
        self.all.add(block);
    }

    /// All blocks above the absolute gate.
    pub(super) fn all(&self) -> Sum {
        self.all
    }

    /// The blocks above `gate`, a mean square.
    pub(super) fn above(&self, gate: f64) -> Sum {
        let cut = bin_of(gate);
        let group = cut / GROUP;
        let mut sum = self.cut(cut, gate);
        for bin in &self.bins[cut + 1..(group + 1) * GROUP] {
            sum.add(*bin);
        }
        for whole in &self.groups[group + 1..] {
            sum.add(*whole);
        }
        sum
    }

    /// The blocks of bin `cut` that lie above `gate`. In a long programme the bin counts as a
    /// whole, by its mean, which is right where its blocks are equal, as in a steady tone.
    fn cut(&self, cut: usize, gate: f64) -> Sum {
        let bin = self.bins[cut];
        let stored = self.all.count as usize;
        if bin.count == 0 || stored > EXACT {
            return if bin.mean().is_some_and(|mean| mean > gate) { bin } else { Sum::default() };
        }
        let mut sum = Sum::default();
        // Most stretches hold none: one look at all of a stretch is cheaper than one at each.
        let places = self.first_bins[..stored].chunks(STRETCH);
        for (places, powers) in places.zip(self.first.chunks(STRETCH)) {
            if !places.iter().fold(false, |found, place| found | (*place == cut as u16)) {
                continue;
            }
            for (place, power) in places.iter().zip(powers) {
                if usize::from(*place) == cut && *power > gate {
                    sum.add(Sum { count: 1, energy: *power });
                }
            }
        }
        sum
    }

    /// Mean square at percentile `p`, 0 to 1, of the loudest `count` blocks: the one of nearest
    /// rank, as in the reference code of EBU Tech 3342, to the mean of its bin.
    pub(super) fn percentile(&self, count: u64, p: f64) -> Option<f64> {
        let last = count.checked_sub(1)?;
        let mut from_top = last - (last as f64 * p).round() as u64;
        let group = self.groups.iter().rposition(|group| passed(&mut from_top, group))?;
        let bins = &self.bins[group * GROUP..(group + 1) * GROUP];
        let bin = bins.iter().rposition(|bin| passed(&mut from_top, bin))?;
        bins[bin].mean()
    }

    pub(super) fn reset(&mut self) {
        self.bins.fill(Sum::default());
        self.groups.fill(Sum::default());
        self.all = Sum::default();
        self.first_bins.fill(0);
        self.first.fill(0.0);
    }
}

/// Whether the block that is `from_top` places down lies in this bin; if not, goes past it.
fn passed(from_top: &mut u64, bin: &Sum) -> bool {
    if *from_top < bin.count {
        return true;
    }
    *from_top -= bin.count;
    false
}

/// Index of the bin of a mean square; what lies outside counts to the first or last one.
fn bin_of(power: f64) -> usize {
    // The cast takes negative numbers and NaN to 0.
    let place = ((lufs(power) - ABSOLUTE_GATE_LUFS) / BIN_LU) as usize;
    place.min(GROUP * GROUPS - 1)
}

//! How the audition stands, from the audio thread to the window.

use std::sync::atomic::{AtomicU8, AtomicU64, Ordering};

use crate::audition::{Heard, Held, Match, Status};

/// A [`Status`] in cells. Each value stands for itself; together they need not stem from one
/// block, which for a display is near enough.
pub(crate) struct ListeningCells {
    heard: AtomicU8,
    held: AtomicU8,
    /// Bits of f64; NaN stands for `None`.
    values: [AtomicU64; 6],
    sure: AtomicU8,
}

impl Default for ListeningCells {
    fn default() -> Self {
        Self {
            heard: AtomicU8::new(0),
            held: AtomicU8::new(0),
            values: std::array::from_fn(|_| AtomicU64::new(f64::NAN.to_bits())),
            sure: AtomicU8::new(0),
        }
    }
}

const HEARD: [Heard; 3] = [Heard::Mix, Heard::Side, Heard::Difference];
const HELD: [Option<Held>; 6] = [
    None,
    Some(Held::Bypassed),
    Some(Held::Offline),
    Some(Held::NoSide),
    Some(Held::NotBefore),
    Some(Held::Failed),
];

impl ListeningCells {
    /// Relaxed, here and in [`Self::load`]: see the type.
    pub(crate) fn store(&self, (status, held): (Status, Option<Held>)) {
        let index = |place: Option<usize>| place.unwrap_or(0) as u8;
        let heard = index(HEARD.iter().position(|h| *h == status.heard));
        let held = index(HELD.iter().position(|h| *h == held));
        self.heard.store(heard, Ordering::Relaxed);
        self.held.store(held, Ordering::Relaxed);
        let values = [
            status.gain_db,
            status.found.map(|m| m.mix_lufs),
            status.found.map(|m| m.side_lufs),
            status.found.map(|m| m.passage_s),
            status.guard_db,
            Some(status.out_of_reach_lu),
        ];
        for (cell, value) in self.values.iter().zip(values) {
            cell.store(value.unwrap_or(f64::NAN).to_bits(), Ordering::Relaxed);
        }
        let sure = status.found.is_some_and(|m| m.sure);
        self.sure.store(u8::from(sure), Ordering::Relaxed);
    }

    pub(crate) fn load(&self) -> (Status, Option<Held>) {
        let [gain_db, mix, side, passage, guard_db, reach] = std::array::from_fn(|i| {
            let value = f64::from_bits(self.values[i].load(Ordering::Relaxed));
            (!value.is_nan()).then_some(value)
        });
        let sure = self.sure.load(Ordering::Relaxed) != 0;
        let found = match (mix, side, passage) {
            (Some(mix_lufs), Some(side_lufs), Some(passage_s)) => {
                Some(Match { mix_lufs, side_lufs, passage_s, sure })
            }
            _ => None,
        };
        let heard = HEARD.get(usize::from(self.heard.load(Ordering::Relaxed)));
        let held = HELD.get(usize::from(self.held.load(Ordering::Relaxed)));
        let status = Status {
            heard: heard.copied().unwrap_or_default(),
            gain_db,
            found,
            out_of_reach_lu: reach.unwrap_or(0.0),
            guard_db,
        };
        (status, held.copied().flatten())
    }
}

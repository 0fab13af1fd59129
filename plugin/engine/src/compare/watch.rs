//! Whether the constant gain between two streams has changed: a fader behind the limiter, its drive, a bypass.

use super::gain::GainFinder;
use crate::thresholds::compare as t;

/// A gain that holds from a cell on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Change {
    /// The main's cell from which it holds.
    pub(super) from: u64,
    /// The gain before, dB, and now.
    pub(super) before_db: f64,
    pub(super) now_db: f64,
}

/// Looks at stretches of [`t::GAIN_WATCH_MOMENTS`], one after the other. Where the ratio rests in two of them in a row at
/// one height that is not the gain so far, the gain has changed.
#[derive(Debug)]
pub(super) struct GainWatch {
    stretch: GainFinder,
    /// Cell in which the stretch began, and moments in it.
    from: u64,
    moments: u64,
    /// Where the ratio rested in the stretch before, dB, and the cell in which that began.
    before: Option<(f64, u64)>,
    /// The gain so far, dB.
    held_db: Option<f64>,
}

impl GainWatch {
    /// Allocates.
    pub(super) fn new() -> Self {
        Self { stretch: GainFinder::new(), from: 0, moments: 0, before: None, held_db: None }
    }

    /// Takes the level ratio of one moment, dB, in the main's cell `cell`; gives a change that has become certain.
    /// Of that stretch's moments is [`Self::stretch`].
    pub(super) fn add(&mut self, ratio_db: f64, cell: u64) -> Option<Change> {
        if self.moments == t::GAIN_WATCH_MOMENTS {
            self.stretch.reset();
            self.moments = 0;
        }
        if self.moments == 0 {
            self.from = cell;
        }
        self.stretch.add(ratio_db);
        self.moments += 1;
        if self.moments < t::GAIN_WATCH_MOMENTS {
            return None;
        }
        let rest = self.stretch.rests_at(t::GAIN_WATCH_OVER, t::GAIN_WATCH_REST);
        let before = self.before.take();
        let now_db = rest?;
        self.before = Some((now_db, self.from));
        let (before_db, from) = before?;
        if (now_db - before_db).abs() > t::GAIN_RANGE_DB {
            return None;
        }
        self.before = Some((now_db, from));
        let held_db = self.held_db.replace(now_db)?;
        let changed = (now_db - held_db).abs() > t::GAIN_CHANGED_DB;
        changed.then_some(Change { from, before_db: held_db, now_db })
    }

    /// The moments of the last whole stretch.
    pub(super) fn stretch(&mut self) -> &mut GainFinder {
        &mut self.stretch
    }

    pub(super) fn reset(&mut self) {
        self.stretch.reset();
        (self.moments, self.before, self.held_db) = (0, None, None);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ratio of a limiter that rests for a third of the time and takes up to 6 dB else.
    fn ratio(gain_db: f64, k: u64) -> f64 {
        let reduction = (6.0 - 0.02 * (k % 450) as f64).max(0.0);
        gain_db - reduction
    }

    fn changes(gain_db: impl Fn(u64) -> f64, moments: u64) -> Vec<Change> {
        let mut watch = GainWatch::new();
        (0..moments).filter_map(|k| watch.add(ratio(gain_db(k), k), 10 * k)).collect()
    }

    #[test]
    fn a_gain_that_stays_is_no_change() {
        assert_eq!(changes(|_| 12.0, 20_000), []);
        // Nor one that drifts by less than it matters, or that never rests at one place.
        assert_eq!(changes(|k| 12.0 + 0.2 * ((k / 5_000) % 2) as f64, 20_000), []);
        assert_eq!(changes(|k| 12.0 + 0.003 * k as f64, 10_000), []);
    }

    /// Up and down, each told within ten seconds, once, and dated within two stretches.
    #[test]
    fn a_change_is_told_and_dated() {
        let steps = |k: u64| [13.0, 18.0, 13.0, 11.0][(k / 4_000) as usize];
        let got = changes(steps, 16_000);
        let want = [(13.0, 18.0), (18.0, 13.0), (13.0, 11.0)];
        assert_eq!(got.len(), want.len(), "{got:?}");
        for (n, (change, (before, now))) in got.iter().zip(want).enumerate() {
            assert!((change.before_db - before).abs() < 0.01, "{change:?}");
            assert!((change.now_db - now).abs() < 0.01, "{change:?}");
            let at = 40_000 * (n as u64 + 1);
            assert!(change.from.abs_diff(at) <= 20 * t::GAIN_WATCH_MOMENTS, "{change:?}");
        }
    }
}

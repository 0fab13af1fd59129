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

/// Looks at stretches of [`t::GAIN_WATCH_MOMENTS`], one after the other. The gain has changed where the ratio rests in two
/// of them in a row at one height that is not the gain so far, and where it goes over a gain that it had rested at: no
/// limiter turns up.
#[derive(Debug)]
pub(super) struct GainWatch {
    stretch: GainFinder,
    /// Cell in which the stretch began, and moments in it.
    from: u64,
    moments: u64,
    /// Where the ratio rested in the stretch before, dB, and the cell in which that began.
    before: Option<(f64, u64)>,
    /// Where it has rested, dB, since the gain last changed.
    rested_db: Option<f64>,
}

impl GainWatch {
    /// Allocates.
    pub(super) fn new() -> Self {
        Self { stretch: GainFinder::new(), from: 0, moments: 0, before: None, rested_db: None }
    }

    /// Takes the level ratio of one moment, dB, in the main's cell `cell`, where the gain so far is `gain_db`; gives a
    /// change that has become certain. Of that stretch's moments is [`Self::stretch`].
    pub(super) fn add(&mut self, ratio_db: f64, cell: u64, gain_db: Option<f64>) -> Option<Change> {
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
        let Some(now_db) = rest else { return self.over() };
        self.before = Some((now_db, self.from));
        let (_, from) = before.filter(|(db, _)| (now_db - db).abs() <= t::GAIN_RANGE_DB)?;
        self.before = Some((now_db, from));
        self.rested_db = Some(now_db);
        let before_db = gain_db?;
        let changed = (now_db - before_db).abs() > t::GAIN_CHANGED_DB;
        changed.then_some(Change { from, before_db, now_db })
    }

    /// A change to a gain at which the ratio does not rest: it lies over the one where it did.
    fn over(&mut self) -> Option<Change> {
        let before_db = self.rested_db?;
        let now_db = self.stretch.reached_db(t::GAIN_WATCH_OVER);
        if now_db <= before_db + t::GAIN_CHANGED_DB {
            return None;
        }
        self.rested_db = None;
        Some(Change { from: self.from, before_db, now_db })
    }

    /// The moments of the last whole stretch.
    pub(super) fn stretch(&mut self) -> &mut GainFinder {
        &mut self.stretch
    }

    pub(super) fn reset(&mut self) {
        self.stretch.reset();
        (self.moments, self.before, self.rested_db) = (0, None, None);
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

    /// The changes, each of which is the gain from then on, and the largest ratio since is it at any time.
    fn changes_of(ratio: impl Fn(u64) -> f64, moments: u64) -> Vec<Change> {
        let (mut watch, mut gain, mut all) = (GainWatch::new(), None, Vec::new());
        for k in 0..moments {
            let ratio = ratio(k);
            gain = Some(gain.map_or(ratio, |gain: f64| gain.max(ratio)));
            if let Some(change) = watch.add(ratio, 10 * k, gain) {
                gain = Some(change.now_db);
                all.push(change);
            }
        }
        all
    }

    fn changes(gain_db: impl Fn(u64) -> f64, moments: u64) -> Vec<Change> {
        changes_of(|k| ratio(gain_db(k), k), moments)
    }

    #[test]
    fn a_gain_that_stays_is_no_change() {
        assert_eq!(changes(|_| 12.0, 20_000), []);
        // Nor one that drifts by less than it matters, or that never rests at one place.
        assert_eq!(changes(|k| 12.0 + 0.2 * ((k / 5_000) % 2) as f64, 20_000), []);
        assert_eq!(changes(|k| 12.0 + 0.003 * k as f64, 10_000), []);
    }

    /// Down, each told within ten seconds, once, and dated within three stretches; back up, too, where the ratio rests.
    #[test]
    fn a_change_is_told_and_dated() {
        let steps = |k: u64| [18.0, 13.0, 11.0, 0.0][(k / 4_000) as usize];
        let got = changes(steps, 16_000);
        let want = [(18.0, 13.0), (13.0, 11.0), (11.0, 0.0)];
        assert_eq!(got.len(), want.len(), "{got:?}");
        for (n, (change, (before, now))) in got.iter().zip(want).enumerate() {
            assert!((change.before_db - before).abs() < 0.01, "{change:?}");
            assert!((change.now_db - now).abs() < 0.01, "{change:?}");
            let at = 40_000 * (n as u64 + 1);
            assert!(change.from.abs_diff(at) <= 30 * t::GAIN_WATCH_MOMENTS, "{change:?}");
        }
    }

    /// Up to a drive at which the limiter never rests, and back: both are told, and between them nothing is.
    #[test]
    fn a_drive_without_a_rest_is_told_too() {
        let driven = |k: u64| match k {
            4_000..8_000 => 18.0 - 1.0 - 0.02 * (k % 150) as f64,
            _ => ratio(13.0, k),
        };
        let got = changes_of(driven, 12_000);
        let [up, down] = got[..] else { panic!("{got:?}") };
        assert!((up.before_db - 13.0).abs() < 0.01 && (up.now_db - 17.0).abs() < 0.1, "{up:?}");
        assert!(
            (down.before_db - 17.0).abs() < 0.1 && (down.now_db - 13.0).abs() < 0.01,
            "{down:?}"
        );
        for (change, at) in [(up, 40_000), (down, 80_000u64)] {
            assert!(change.from.abs_diff(at) <= 30 * t::GAIN_WATCH_MOMENTS, "{change:?}");
        }
    }
}

//! What is drawn: the history of the stretch in the picture, in a bounded number of points.

use brunt_engine::LeakKind;
use brunt_report::report::HistoryReport;

use crate::display::Display;

/// The points of one stretch, with where each stands in time.
pub struct Columns(HistoryReport);

impl Columns {
    /// The history from `from_s` to `to_s`; `None` while there is none.
    #[must_use]
    pub fn of(display: &Display, from_s: f64, to_s: f64) -> Option<Self> {
        display.stretch(from_s, to_s).map(Self)
    }

    /// The numbers.
    #[must_use]
    pub fn report(&self) -> &HistoryReport {
        &self.0
    }

    /// The place of the column that holds a time.
    #[must_use]
    pub fn at(&self, time_s: f64) -> usize {
        let place = (time_s - self.0.from_s) / self.0.step_s;
        (place.max(0.0) as usize).min(self.0.len().saturating_sub(1))
    }

    /// Middle of a column, s.
    #[must_use]
    pub fn middle_s(&self, place: usize) -> f64 {
        middle_s(&self.0, place)
    }

    /// The leaks that were judged at any time, with their costs.
    pub fn costs(&self) -> impl Iterator<Item = (LeakKind, &[Option<f64>])> {
        LeakKind::ALL.into_iter().filter_map(|kind| Some((kind, self.0.costs_db.get(kind)?)))
    }
}

/// Middle of a column of a history, s.
#[must_use]
pub fn middle_s(history: &HistoryReport, place: usize) -> f64 {
    history.from_s + (place as f64 + 0.5) * history.step_s
}

#[cfg(test)]
mod tests {
    use brunt_engine::HistoryPoint;

    use super::*;

    fn display(points: usize) -> Display {
        let mut display = Display::default();
        for k in 1..=points {
            let point = HistoryPoint {
                time_s: k as f64 / 10.0,
                contrast_db: Some((k / 100) as f64),
                ..HistoryPoint::default()
            };
            display.fine.add(&point);
            display.song.add(&point);
        }
        display
    }

    #[test]
    fn a_short_stretch_is_drawn_point_by_point() {
        let display = display(8_000);
        let columns = Columns::of(&display, 100.0, 110.0).expect("points");
        assert_eq!((columns.report().step_s, columns.report().from_s), (0.1, 100.0));
        assert!(columns.report().len() >= 100);
        assert_eq!(columns.report().contrast_db[columns.at(105.0)], Some(10.0));
        let coarse = Columns::of(&display, 0.0, 800.0).expect("points");
        assert!(coarse.report().len() <= brunt_report::report::MAX_POINTS);
        assert_eq!(coarse.report().contrast_db[coarse.at(105.0)], Some(10.0));
    }

    #[test]
    fn without_raw_points_the_thinned_song_is_drawn() {
        let mut restored = display(2_000);
        restored.fine.clear();
        assert!(Columns::of(&restored, 50.0, 60.0).is_some());
        assert!(Columns::of(&Display::default(), 0.0, 5.0).is_none());
    }
}

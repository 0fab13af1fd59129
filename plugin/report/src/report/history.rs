//! The programme at a glance: the engine's 10 Hz points, thinned to a bounded number.

use brunt_engine::decibels::{power_db, power_ratio};
use brunt_engine::{HistoryPoint, LeakKind};
use serde::{Deserialize, Serialize};

/// Most points that are kept, whatever the length of the programme. Ours: one for each pixel of a
/// picture 720 wide; a song of four minutes keeps one every 0.4 s, three hours one every 25.6 s.
pub const MAX_POINTS: usize = 720;
/// Points that are kept to zoom into. Ours: a stretch of thirteen minutes at full detail, three
/// hours one every 1.6 s, in 1.4 MB.
pub const FINE_POINTS: usize = 8192;
/// Distance of the engine's points, s.
const STEP_S: f64 = 0.1;

/// Gathers history points in bounded memory, `MOST` of them. When it is full, neighbours are merged
/// in pairs, so that what it holds depends on the points alone and not on when it was asked. The
/// memory is taken with the first point and never grows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline<const MOST: usize = MAX_POINTS> {
    bins: Vec<Bin>,
    /// How often the bins' width was doubled.
    doublings: u32,
}

/// The points that fall into one stretch of time, as sums, so that two bins add up to one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Bin {
    /// Power behind the short-term loudness, over points.
    short_term: Mean,
    /// Largest true peak, dBTP.
    true_peak: Option<f64>,
    /// Contrast, dB.
    contrast: Mean,
    /// Cost of each leak, dB.
    costs: [Mean; LeakKind::ALL.len()],
}

/// A mean under way.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Mean {
    sum: f64,
    count: u32,
}

impl Mean {
    fn of(x: Option<f64>) -> Self {
        match x.filter(|x| x.is_finite()) {
            Some(sum) => Self { sum, count: 1 },
            None => Self::default(),
        }
    }

    fn add(&mut self, other: Self) {
        self.sum += other.sum;
        self.count += other.count;
    }

    fn get(self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / f64::from(self.count))
    }
}

impl Bin {
    fn of(point: &HistoryPoint) -> Self {
        Self {
            short_term: Mean::of(point.short_term_lufs.map(power_ratio)),
            true_peak: point.true_peak_dbtp.filter(|peak| peak.is_finite()),
            contrast: Mean::of(point.contrast_db),
            costs: point.costs_db.map(Mean::of),
        }
    }

    pub(crate) fn sum(bins: &[Self]) -> Self {
        let mut sum = Self::default();
        bins.iter().for_each(|bin| sum.add(bin));
        sum
    }

    /// Short-term loudness, LUFS: power mean.
    pub(crate) fn short_term_lufs(&self) -> Option<f64> {
        self.short_term.get().map(power_db)
    }

    /// Hit contrast, dB: mean.
    pub(crate) fn contrast_db(&self) -> Option<f64> {
        self.contrast.get()
    }

    fn add(&mut self, other: &Self) {
        self.short_term.add(other.short_term);
        self.true_peak = match (self.true_peak, other.true_peak) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        self.contrast.add(other.contrast);
        for (sum, cost) in self.costs.iter_mut().zip(other.costs) {
            sum.add(cost);
        }
    }
}

impl<const MOST: usize> Timeline<MOST> {
    /// Takes the next point. Its place follows from its own time; a time that is negative or no
    /// number is passed over.
    pub fn add(&mut self, point: &HistoryPoint) {
        // A point's time is its end: its middle lies in its own stretch, whatever the rounding.
        let middle_s = point.time_s - STEP_S / 2.0;
        if !(middle_s.is_finite() && middle_s >= 0.0) {
            return;
        }
        while middle_s >= self.step_s() * MOST as f64 {
            self.halve();
        }
        if self.bins.capacity() == 0 {
            self.bins.reserve_exact(MOST);
        }
        let place = (middle_s / self.step_s()) as usize;
        if place >= self.bins.len() {
            self.bins.resize(place + 1, Bin::default());
        }
        if let Some(bin) = self.bins.get_mut(place) {
            bin.add(&Bin::of(point));
        }
    }

    /// Time that each kept point covers, s: 0.1 s, doubled as often as needed.
    #[must_use]
    pub fn step_s(&self) -> f64 {
        STEP_S * f64::from(2u32.saturating_pow(self.doublings))
    }

    /// What it holds, [`Self::step_s`] each.
    pub(crate) fn bins(&self) -> &[Bin] {
        &self.bins
    }

    /// Forgets every point.
    pub fn clear(&mut self) {
        self.bins.clear();
        self.doublings = 0;
    }

    /// What it holds from `from_s` to `to_s`, in at most [`MAX_POINTS`] columns or one more; `None`
    /// where it holds nothing. The columns' places do not depend on where the stretch begins.
    #[must_use]
    pub fn stretch(&self, from_s: f64, to_s: f64) -> Option<HistoryReport> {
        let step_s = self.step_s();
        let first = (from_s / step_s).floor().max(0.0) as usize;
        let last = ((to_s / step_s).ceil().max(0.0) as usize).min(self.bins.len());
        let each = last.checked_sub(first)?.div_ceil(MAX_POINTS).next_power_of_two();
        let first = first / each * each;
        let bins: Vec<Bin> = self.bins.get(first..last)?.chunks(each).map(Bin::sum).collect();
        HistoryReport::columns(&bins, first as f64 * step_s, step_s * each as f64)
    }

    fn halve(&mut self) {
        let pairs = self.bins.len().div_ceil(2);
        for k in 0..pairs {
            let end = (2 * k + 2).min(self.bins.len());
            self.bins[k] = Bin::sum(&self.bins[2 * k..end]);
        }
        self.bins.truncate(pairs);
        self.doublings += 1;
    }
}

impl From<&HistoryReport> for Timeline {
    /// A timeline to go on with, as far as the report tells: a stretch's values count as one
    /// point's.
    fn from(report: &HistoryReport) -> Self {
        let doublings = (report.step_s / STEP_S).max(1.0).log2().round() as u32;
        let value = |column: &[Option<f64>], k: usize| column.get(k).copied().flatten();
        let bins = (0..report.len().min(MAX_POINTS)).map(|k| {
            Bin::of(&HistoryPoint {
                short_term_lufs: value(&report.short_term_lufs, k),
                true_peak_dbtp: value(&report.true_peak_dbtp, k),
                contrast_db: value(&report.contrast_db, k),
                costs_db: LeakKind::ALL
                    .map(|kind| value(report.costs_db.get(kind).unwrap_or_default(), k)),
                ..HistoryPoint::default()
            })
        });
        Self { bins: bins.collect(), doublings }
    }
}

impl<const MOST: usize> Extend<HistoryPoint> for Timeline<MOST> {
    fn extend<T: IntoIterator<Item = HistoryPoint>>(&mut self, points: T) {
        for point in points {
            self.add(&point);
        }
    }
}

/// The history in the JSON: columns of equal length, one value a stretch of `step_s`. Values are
/// rounded to 0.01; null where nothing was known in that stretch.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct HistoryReport {
    /// Start of the first stretch, s from the start of the file.
    pub from_s: f64,
    /// Length of a stretch, s.
    pub step_s: f64,
    /// Short-term loudness, LUFS: power mean over the stretch.
    pub short_term_lufs: Vec<Option<f64>>,
    /// Largest true peak, dBTP.
    pub true_peak_dbtp: Vec<Option<f64>>,
    /// Median contrast of the latest hits, dB: mean over the stretch.
    pub contrast_db: Vec<Option<f64>>,
    /// Cost of each leak, dB. Of ceiling and mids: what was known at that time, mean over the stretch.
    /// Of timing, clutter and drive, which the parts show: the mean over the main hits of the stretch
    /// and of the two seconds on either side of it, at the places of the song that played then, as
    /// these were heard last.
    pub costs_db: CostsReport,
}

/// The costs over time: null for a leak that was never judged.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct CostsReport {
    ceiling: Option<Vec<Option<f64>>>,
    timing: Option<Vec<Option<f64>>>,
    clutter: Option<Vec<Option<f64>>>,
    drive: Option<Vec<Option<f64>>>,
    mids: Option<Vec<Option<f64>>>,
}

impl CostsReport {
    /// One leak's cost over time, dB; `None` where it was never judged.
    #[must_use]
    pub fn get(&self, kind: LeakKind) -> Option<&[Option<f64>]> {
        match kind {
            LeakKind::Ceiling => self.ceiling.as_deref(),
            LeakKind::Timing => self.timing.as_deref(),
            LeakKind::Clutter => self.clutter.as_deref(),
            LeakKind::Drive => self.drive.as_deref(),
            LeakKind::Mids => self.mids.as_deref(),
        }
    }
}

impl HistoryReport {
    /// What a timeline holds, for a passage that starts `from_s` seconds into the file; `None`
    /// while it holds nothing.
    #[must_use]
    pub fn of(timeline: &Timeline, from_s: f64) -> Option<Self> {
        Self::columns(&timeline.bins, from_s, timeline.step_s())
    }

    fn columns(bins: &[Bin], from_s: f64, step_s: f64) -> Option<Self> {
        if bins.is_empty() {
            return None;
        }
        let column = |value: &dyn Fn(&Bin) -> Option<f64>| -> Vec<Option<f64>> {
            bins.iter().map(|bin| value(bin).map(rounded)).collect()
        };
        let cost = |kind: LeakKind| {
            let column = column(&|bin| bin.costs[kind as usize].get());
            column.iter().any(Option::is_some).then_some(column)
        };
        Some(Self {
            from_s,
            step_s,
            short_term_lufs: column(&Bin::short_term_lufs),
            true_peak_dbtp: column(&|bin| bin.true_peak),
            contrast_db: column(&Bin::contrast_db),
            costs_db: CostsReport {
                ceiling: cost(LeakKind::Ceiling),
                timing: cost(LeakKind::Timing),
                clutter: cost(LeakKind::Clutter),
                drive: cost(LeakKind::Drive),
                mids: cost(LeakKind::Mids),
            },
        })
    }

    /// Sets the costs of timing, clutter and drive: `costs_db` gives those of a stretch from a time of
    /// this history to another, s, `None` where nothing is known. A leak of which nothing is known
    /// anywhere keeps what it had.
    pub fn set_part_costs(&mut self, costs_db: impl Fn(f64, f64) -> [Option<f64>; 3]) {
        let start_s = |k: usize| self.from_s + self.step_s * k as f64;
        let rows: Vec<[Option<f64>; 3]> =
            (0..self.len()).map(|k| costs_db(start_s(k), start_s(k + 1))).collect();
        let costs = &mut self.costs_db;
        let columns = [&mut costs.timing, &mut costs.clutter, &mut costs.drive];
        for (leak, column) in columns.into_iter().enumerate() {
            let known = rows.iter().map(|row| row[leak].filter(|db| db.is_finite()).map(rounded));
            let known: Vec<Option<f64>> = known.collect();
            if known.iter().any(Option::is_some) {
                *column = Some(known);
            }
        }
    }

    /// Stretches.
    #[must_use]
    pub fn len(&self) -> usize {
        self.short_term_lufs.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// The leaks that parts show, in the order in which their costs and readings stand.
pub const PART_LEAKS: [LeakKind; 3] = [LeakKind::Timing, LeakKind::Clutter, LeakKind::Drive];

/// To hundredths: a report need not hold more.
fn rounded(x: f64) -> f64 {
    (x * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(tenths: usize, lufs: f64) -> HistoryPoint {
        HistoryPoint {
            time_s: tenths as f64 * STEP_S,
            short_term_lufs: Some(lufs),
            true_peak_dbtp: Some(-(tenths as f64)),
            costs_db: [Some(1.0), None, None, None, None],
            ..HistoryPoint::default()
        }
    }

    #[test]
    fn three_hours_stay_within_the_bound_and_cover_all_of_it() {
        let mut timeline = Timeline::<MAX_POINTS>::default();
        let points = 3 * 3600 * 10;
        timeline.extend((1..=points).map(|k| point(k, -14.0)));
        let report = HistoryReport::of(&timeline, 0.0).expect("points");
        assert!(report.len() <= MAX_POINTS && report.len() > MAX_POINTS / 2, "{}", report.len());
        let covered = report.step_s * report.len() as f64;
        assert!((10_800.0..10_800.0 + report.step_s).contains(&covered), "{covered}");
        assert!(report.short_term_lufs.iter().all(|lufs| *lufs == Some(-14.0)));
        assert_eq!(report.true_peak_dbtp[0], Some(-1.0), "the largest of the first stretch");
        assert_eq!(report.costs_db.get(LeakKind::Timing), None);
    }

    #[test]
    fn three_hours_take_no_more_memory_than_a_minute_and_can_be_zoomed_into() {
        let mut fine = Timeline::<FINE_POINTS>::default();
        fine.extend((1..=600).map(|k| point(k, -14.0)));
        let (place, room) = (fine.bins.as_ptr(), fine.bins.capacity());
        fine.extend((601..=3 * 3600 * 10).map(|k| point(k, -14.0)));
        assert_eq!((fine.bins.as_ptr(), fine.bins.capacity()), (place, room));
        let report = fine.stretch(5_000.0, 5_100.0).expect("points");
        assert_eq!((report.from_s, report.step_s, report.len()), (5_000.0, 1.6, 63));
        // The largest peak of a column is that of its first point: they fall by 1 a point.
        assert_eq!(report.true_peak_dbtp[0], Some(-50_001.0));
        let whole = fine.stretch(0.0, 11_000.0).expect("points");
        assert!((MAX_POINTS / 2..=MAX_POINTS + 1).contains(&whole.len()), "{}", whole.len());
        assert!(whole.short_term_lufs.iter().all(|lufs| *lufs == Some(-14.0)));
        assert_eq!(fine.stretch(20_000.0, 20_010.0), None);
        assert_eq!(fine.stretch(20.0, 10.0), None);
    }

    #[test]
    fn two_halves_merge_by_power() {
        // The mean of -10 and -20 LUFS is 10 log10((0.1 + 0.01) / 2) = -12.596 (closed form).
        let mut timeline = Timeline::<MAX_POINTS>::default();
        timeline
            .extend((1..=MAX_POINTS + 1).map(|k| point(k, if k % 2 == 0 { -10.0 } else { -20.0 })));
        let report = HistoryReport::of(&timeline, 3.0).expect("points");
        assert_eq!((report.from_s, report.step_s, report.len()), (3.0, 0.2, MAX_POINTS / 2 + 1));
        assert_eq!(report.short_term_lufs[0], Some(-12.6));
    }

    #[test]
    fn a_timeline_comes_back_from_its_report() {
        let mut timeline = Timeline::<MAX_POINTS>::default();
        timeline.extend((1..=2000).map(|k| point(k, -14.0 - (k % 7) as f64)));
        let report = HistoryReport::of(&timeline, 0.0).expect("points");
        let back = Timeline::from(&report);
        assert_eq!(back.step_s(), timeline.step_s());
        assert_eq!(HistoryReport::of(&back, 0.0).as_ref(), Some(&report));
    }

    /// What the parts cost stands beside what the mix showed, comes back from the report, and leaves
    /// what it does not know as it was.
    #[test]
    fn costs_of_the_parts_are_set_place_by_place() {
        let mut timeline = Timeline::<MAX_POINTS>::default();
        timeline.extend((1..=40).map(|k| point(k, -14.0)));
        let mut report = HistoryReport::of(&timeline, 2.0).expect("points");
        report.set_part_costs(|from_s, to_s| {
            assert!((to_s - from_s - STEP_S).abs() < 1e-9);
            [(from_s > 2.95).then_some(from_s), None, Some(f64::NAN)]
        });
        let timing = report.costs_db.get(LeakKind::Timing).expect("known");
        assert_eq!((timing.len(), timing[9], timing[10]), (40, None, Some(3.0)));
        assert_eq!(report.costs_db.get(LeakKind::Clutter), None);
        assert_eq!(report.costs_db.get(LeakKind::Drive), None);
        assert_eq!(report.costs_db.get(LeakKind::Ceiling).map(|c| c[0]), Some(Some(1.0)));
        let back = HistoryReport::of(&Timeline::from(&report), 2.0);
        assert_eq!(back.as_ref(), Some(&report));
        let before = report.clone();
        report.set_part_costs(|_, _| [None; 3]);
        assert_eq!(report, before);
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let mut timeline = Timeline::<MAX_POINTS>::default();
        timeline.extend([point(1, -14.0), point(5, -14.0)]);
        timeline.add(&HistoryPoint { time_s: f64::NAN, ..HistoryPoint::default() });
        let report = HistoryReport::of(&timeline, 0.0).expect("points");
        let known: Vec<bool> = report.short_term_lufs.iter().map(Option::is_some).collect();
        assert_eq!(known, [true, false, false, false, true]);
    }
}

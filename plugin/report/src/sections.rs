//! Sections of a song, found in its history: stretches whose loudness and hit contrast stay about
//! the same.

use serde::{Deserialize, Serialize};

use crate::report::history::Bin;
use crate::report::{HistoryReport, Timeline};

/// Shortest section, s. Ours: two bars of a slow song.
const SHORTEST_S: f64 = 8.0;
/// Least fall of the squared deviations, dB² s, that one more section must bring. Ours: over
/// stretches of 15 s a step of 2.6 dB in loudness or in contrast brings as much; what loudness
/// does within a section (0.7 dB, correlated over the 3 s of its window) brings a third of it.
const WORTH_DB2_S: f64 = 50.0;
/// What lies further under the loudest moment is a pause, LU.
const DEPTH_LU: f64 = 24.0;
/// Short-term loudness looks 3 s back (EBU Tech 3341), so a step shows up that much later in the
/// middle, s.
const LATE_S: f64 = 1.5;
/// How far off a border may lie, s.
const BORDER_S: f64 = 2.0;
/// Least length of a column that is looked at, s.
const COLUMN_S: f64 = 1.0;

/// A section of the song.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Section {
    /// Its start, s from the start of the file; good to about 2 s.
    pub from_s: f64,
    /// Its end, s.
    pub to_s: f64,
    /// Its loudness, LUFS: power mean of the short-term loudness. `None` for a pause without any.
    pub loudness_lufs: Option<f64>,
    /// Hit contrast in it, dB: mean over time of the median contrast of the latest hits. `None` where
    /// no hit lies in it.
    pub contrast_db: Option<f64>,
}

/// The sections of a song, one after the other, from its first moment to the end of the history's
/// last column; one where nothing changes, none without a history. The places are those that make the
/// sum of squared deviations from each section's mean loudness and contrast least, at a fixed price for
/// each section (optimal partitioning; Jackson et al. 2005).
#[must_use]
pub fn sections(history: &HistoryReport) -> Vec<Section> {
    let (columns, step_s) = columns(history);
    if columns.is_empty() {
        return Vec::new();
    }
    let sums = Sums::of(&columns);
    let ends = partition(&sums, step_s);
    let late = (LATE_S / step_s).round() as usize;
    let mut from = 0;
    let last = ends.len() - 1;
    ends.iter()
        .enumerate()
        .map(|(k, &to)| {
            // A place is where the step shows; the step itself was earlier.
            let place =
                |column: usize| history.from_s + column.saturating_sub(late) as f64 * step_s;
            let start_s = if k == 0 { history.from_s } else { place(from) };
            let whole_s = history.step_s * history.len() as f64;
            let end_s = if k == last { history.from_s + whole_s } else { place(to) };
            // What still looks back into the section before, or ahead into the next, is left out
            // where enough remains.
            let first = if k > 0 && to - from > 4 * late { from + late } else { from };
            let behind = if k < last && to - from > 4 * late { to - late } else { to };
            let whole = Bin::sum(&columns[first..behind]);
            from = to;
            let rounded = |x: f64| (x * 100.0).round() / 100.0;
            Section {
                from_s: rounded(start_s),
                to_s: rounded(end_s),
                loudness_lufs: whole.short_term_lufs().map(rounded),
                contrast_db: whole.contrast_db().map(rounded),
            }
        })
        .collect()
}

/// Takes the contrast from sections in which nothing hits: the history holds the last one through a
/// pause. `hits_s`: every hit's time, s from the start of the file. A hit that lies no further from a border
/// between two sections than that is good to may belong to either.
pub fn forget_held(sections: &mut [Section], hits_s: impl Iterator<Item = f64> + Clone) {
    let last = sections.len().saturating_sub(1);
    for (k, section) in sections.iter_mut().enumerate() {
        let from_s = section.from_s + if k > 0 { BORDER_S } else { 0.0 };
        let to_s = section.to_s - if k < last { BORDER_S } else { 0.0 };
        if !hits_s.clone().any(|at| (from_s..=to_s).contains(&at)) {
            section.contrast_db = None;
        }
    }
}

/// The sections worth telling of: none where the whole song is one.
#[must_use]
pub fn told(sections: &[Section]) -> &[Section] {
    if sections.len() > 1 { sections } else { &[] }
}

/// The history in columns of a second or more, and their length, s.
fn columns(history: &HistoryReport) -> (Vec<Bin>, f64) {
    let each = (COLUMN_S / history.step_s.max(1e-3)).ceil().max(1.0) as usize;
    let timeline = Timeline::from(history);
    let columns = timeline.bins().chunks(each).map(Bin::sum).collect();
    (columns, each as f64 * history.step_s)
}

/// Running sums of both curves and of their squares, over columns.
struct Sums(Vec<[f64; 4]>);

impl Sums {
    fn of(columns: &[Bin]) -> Self {
        let loudest =
            columns.iter().filter_map(Bin::short_term_lufs).fold(f64::NEG_INFINITY, f64::max);
        let floor = if loudest.is_finite() { loudest - DEPTH_LU } else { 0.0 };
        // Before the first window is full, and before the first hit, the first value holds; later
        // nothing is a pause, and the contrast is the one before.
        let first = columns.iter().find_map(Bin::contrast_db).unwrap_or(0.0);
        let begins =
            columns.iter().position(|column| column.short_term_lufs().is_some()).unwrap_or(0);
        let start = columns.get(begins).and_then(Bin::short_term_lufs).unwrap_or(floor);
        let (mut contrast, mut sum, mut sums) = (first, [0.0; 4], vec![[0.0; 4]]);
        for (k, column) in columns.iter().enumerate() {
            let silent = if k < begins { start } else { floor };
            let lufs = column.short_term_lufs().unwrap_or(silent).max(floor);
            contrast = column.contrast_db().unwrap_or(contrast);
            for (sum, x) in sum.iter_mut().zip([lufs, lufs * lufs, contrast, contrast * contrast]) {
                *sum += x;
            }
            sums.push(sum);
        }
        Self(sums)
    }

    /// Squared deviations of the columns `from..to` from their means, summed.
    fn deviation(&self, from: usize, to: usize) -> f64 {
        let [a, b] = [self.0[from], self.0[to]];
        let count = (to - from) as f64;
        let of = |k: usize| (b[k + 1] - a[k + 1]) - (b[k] - a[k]).powi(2) / count;
        of(0).max(0.0) + of(2).max(0.0)
    }
}

/// Ends of the best sections, as numbers of columns.
fn partition(sums: &Sums, step_s: f64) -> Vec<usize> {
    let count = sums.0.len() - 1;
    let shortest = ((SHORTEST_S / step_s).round() as usize).max(1);
    let price = WORTH_DB2_S / step_s;
    // Least cost of the columns up to each, and where its last section begins.
    let mut best: Vec<(f64, usize)> = vec![(f64::INFINITY, 0); count + 1];
    best[0] = (0.0, 0);
    for to in 1..=count {
        let starts =
            (0..(to + 1).saturating_sub(shortest)).filter(|from| best[*from].0.is_finite());
        let costs = starts.map(|from| (best[from].0 + sums.deviation(from, to) + price, from));
        // A song that is shorter than a section is one.
        let short = to == count && count < shortest;
        let whole = if short { (0.0, 0) } else { (f64::INFINITY, 0) };
        best[to] = costs.fold(whole, |least, cost| if cost.0 < least.0 { cost } else { least });
    }
    let mut ends = vec![count];
    while let Some(&end) = ends.last().filter(|end| best[**end].1 > 0) {
        ends.push(best[end].1);
    }
    ends.reverse();
    ends
}

#[cfg(test)]
mod tests {
    use brunt_engine::HistoryPoint;

    use brunt_engine::decibels::{power_db, power_ratio};

    use super::*;

    /// A song as the meter would give it at 10 Hz: each part's level and contrast for its seconds,
    /// swelling a little, behind the 3 s window of short-term loudness.
    fn song(parts: &[(f64, f64, f64)]) -> HistoryReport {
        let at = |s: f64| {
            let mut start = 0.0;
            for part in parts {
                if s < start + part.0 {
                    return (part.1, part.2);
                }
                start += part.0;
            }
            (-70.0, 0.0)
        };
        let whole_s: f64 = parts.iter().map(|part| part.0).sum();
        let power = |k: i64| {
            let s = k as f64 / 10.0;
            let swell = (s * 0.9).sin() + 0.7 * (s * 2.3).sin();
            if k < 0 { 0.0 } else { power_ratio(at(s).0 + swell) }
        };
        let mut timeline = Timeline::default();
        timeline.extend((1..=(whole_s * 10.0) as i64).map(|k| {
            let window = (k - 30..k).map(power).sum::<f64>() / 30.0;
            let s = k as f64 / 10.0;
            HistoryPoint {
                time_s: s,
                short_term_lufs: Some(power_db(window)),
                contrast_db: Some(at(s - 0.05).1 + 0.5 * (s * 0.5).sin()),
                ..HistoryPoint::default()
            }
        }));
        HistoryReport::of(&timeline, 0.0).expect("points")
    }

    #[test]
    fn sections_begin_where_the_song_changes() {
        let parts =
            [(20.0, -18.0, 9.0), (30.0, -13.0, 6.0), (24.0, -17.0, 9.0), (40.0, -12.0, 5.0)];
        let found = sections(&song(&parts));
        assert_eq!(found.len(), 4, "{found:?}");
        let mut start = 0.0;
        for (found, (length, lufs, contrast)) in found.iter().zip(parts) {
            assert!((found.from_s - start).abs() <= 2.0, "{found:?}: begins at {start} s");
            assert!((found.loudness_lufs.expect("known") - lufs).abs() < 1.0, "{found:?}");
            assert!((found.contrast_db.expect("known") - contrast).abs() < 0.7, "{found:?}");
            start += length;
        }
        assert_eq!((found[0].from_s, found[3].to_s), (0.0, 114.0));
        assert!(found.windows(2).all(|two| two[0].to_s == two[1].from_s));
    }

    #[test]
    fn contrast_alone_tells_two_sections_apart() {
        let found = sections(&song(&[(40.0, -14.0, 9.0), (40.0, -14.0, 5.0)]));
        assert_eq!(found.len(), 2, "{found:?}");
        assert!((found[1].from_s - 40.0).abs() <= 2.0, "{found:?}");
    }

    #[test]
    fn a_song_that_does_not_change_is_one_section() {
        for length_s in [4.0, 60.0, 600.0, 7200.0] {
            let history = song(&[(length_s, -14.0, 8.0)]);
            let found = sections(&history);
            assert_eq!(found.len(), 1, "{length_s} s: {found:?}");
            let end_s = length_s..length_s + history.step_s;
            assert!(found[0].from_s == 0.0 && end_s.contains(&found[0].to_s), "{found:?}");
        }
        assert!(sections(&HistoryReport::default()).is_empty());
    }

    /// Short-term loudness is not known for the first 3 s, nor contrast before the first hits: no
    /// section of their own.
    #[test]
    fn the_first_seconds_belong_to_the_first_section() {
        let mut timeline = Timeline::default();
        timeline.extend((1..=600).map(|k| HistoryPoint {
            time_s: f64::from(k) / 10.0,
            short_term_lufs: (k >= 30).then_some(-14.0),
            contrast_db: (k >= 60).then_some(8.0),
            ..HistoryPoint::default()
        }));
        let found = sections(&HistoryReport::of(&timeline, 0.0).expect("points"));
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!((found[0].loudness_lufs, found[0].contrast_db), (Some(-14.0), Some(8.0)));
    }

    #[test]
    fn no_section_is_shorter_than_the_shortest() {
        // A count-in of 2 s, and a last chord that rings for 3 s.
        let found = sections(&song(&[(2.0, -30.0, 2.0), (40.0, -14.0, 8.0), (3.0, -30.0, 8.0)]));
        assert!(found.iter().all(|s| s.to_s - s.from_s >= SHORTEST_S - LATE_S - 0.5), "{found:?}");
    }

    /// The meter holds the contrast of the last hits through a pause: it is none of the pause's.
    #[test]
    fn a_section_without_hits_has_no_contrast() {
        let mut found = sections(&song(&[(30.0, -14.0, 8.0), (20.0, -40.0, 8.0)]));
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found.iter().all(|section| section.contrast_db.is_some()), "{found:?}");
        // The last lies in the pause by as much as the border may be off.
        let hits = (0..=60).map(|k| 0.5 * f64::from(k));
        forget_held(&mut found, hits);
        let known: Vec<bool> = found.iter().map(|section| section.contrast_db.is_some()).collect();
        assert_eq!(known, [true, false], "{found:?}");
        let mut one = [Section { to_s: 3.0, contrast_db: Some(8.0), ..Section::default() }];
        forget_held(&mut one, [0.5].into_iter());
        assert_eq!(one[0].contrast_db, Some(8.0), "the song's own ends are exact");
    }

    #[test]
    fn a_pause_is_a_section_without_loudness() {
        let mut timeline = Timeline::default();
        timeline.extend((1..=900).map(|k| HistoryPoint {
            time_s: f64::from(k) / 10.0,
            short_term_lufs: (!(300..600).contains(&k)).then_some(-14.0),
            ..HistoryPoint::default()
        }));
        let found = sections(&HistoryReport::of(&timeline, 5.0).expect("points"));
        let known: Vec<bool> =
            found.iter().map(|section| section.loudness_lufs.is_some()).collect();
        assert_eq!(known, [true, false, true], "{found:?}");
        assert_eq!(found[0].from_s, 5.0);
    }
}

//! Passes that were kept to compare with: "before I moved the limiter".

use brunt_engine::RECENT_HITS;
use brunt_report::report::{HistoryReport, Timeline};

use crate::display::{Display, PlacedHit};
pub(crate) use crate::model::kept::FARTHEST_BEAT;
pub use crate::model::kept::{KeptHit, KeptPass};

/// Most passes kept at a time; keeping one more drops the oldest.
pub const MAX_KEPT: usize = 3;
/// Most hits of a kept pass; the newest stay. At about 25 bytes each a session grows by 50 kB.
pub const MAX_KEPT_HITS: usize = 2000;
/// How far apart two hits of one place in the song may lie, quarter notes. Ours: 50 ms at 120 beats
/// a minute, half the distance of two sixteenths at 150.
const SAME_PLACE: f32 = 0.1;
/// Least hits of one place that a change is told from. Ours: a quarter of the recent hits.
const LEAST_SAME: usize = RECENT_HITS / 4;

/// What has changed since a kept pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Hit contrast now less then, dB.
    pub contrast_db: Option<f64>,
    /// Lost peak now less then, dB: negative when less is lost.
    pub lost_db: Option<f64>,
    /// Hits of the same place in the song that it was told from; 0 where the last hits stand
    /// beside the whole kept pass.
    pub same_places: usize,
}

impl KeptPass {
    /// The pass on display; `None` while it has no hits.
    #[must_use]
    pub fn of(display: &Display, number: u32) -> Option<Self> {
        let punch = &display.readings.punch;
        punch.contrast_db?;
        let skip = display.hits.len().saturating_sub(MAX_KEPT_HITS);
        let mut hits: Vec<KeptHit> = display.hits.iter().skip(skip).map(KeptHit::of).collect();
        hits.sort_by(|a, b| a.0.partial_cmp(&b.0).unwrap_or(std::cmp::Ordering::Equal));
        let lost = hits.iter().filter_map(|hit| hit.2.map(f64::from)).collect();
        Some(Self {
            number,
            time_s: display.readings.time_s,
            contrast_db: punch.contrast_db,
            lost_db: median(lost),
            integrated_lufs: display.readings.loudness.integrated_lufs,
            hits,
            history: display.history(),
            shape: display.shape.as_deref().cloned(),
        })
    }

    /// The hit at a place in the song, quarter notes.
    #[must_use]
    pub fn at(&self, beat: f64) -> Option<&KeptHit> {
        let beat = beat as f32;
        let from = self.hits.partition_point(|hit| hit.0.is_none_or(|b| b < beat - SAME_PLACE));
        let near = self.hits[from..].iter().take_while(|hit| hit.0 <= Some(beat + SAME_PLACE));
        let off = |hit: &&KeptHit| hit.0.map_or(f32::MAX, |b| (b - beat).abs());
        near.min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// What has changed: over the recent hits that have one at the same place of the song here, or
    /// else those hits beside the whole pass.
    #[must_use]
    pub fn change(&self, display: &Display) -> Change {
        let recent: Vec<&PlacedHit> = display.hits.iter().rev().take(RECENT_HITS).collect();
        let pairs: Vec<(&PlacedHit, &KeptHit)> =
            recent.iter().filter_map(|now| Some((*now, self.at(now.beat?)?))).collect();
        if pairs.len() >= LEAST_SAME {
            let contrast = pairs.iter().map(|(now, then)| now.hit.contrast_db - f64::from(then.1));
            let lost =
                pairs.iter().filter_map(|(now, then)| Some(now.hit.lost_db? - f64::from(then.2?)));
            return Change {
                contrast_db: median(contrast.collect()),
                lost_db: median(lost.collect()),
                same_places: pairs.len(),
            };
        }
        let now = display.readings.punch_recent.contrast_db;
        let lost = median(recent.iter().filter_map(|now| now.hit.lost_db).collect());
        Change {
            contrast_db: now.zip(self.contrast_db).map(|(now, then)| now - then),
            lost_db: lost.zip(self.lost_db).map(|(now, then)| now - then),
            same_places: 0,
        }
    }
}

impl KeptHit {
    fn of(placed: &PlacedHit) -> Self {
        // To 0.01 dB and 0.001 quarter notes: a session need not hold more.
        let rounded = |x: f64, steps: f64| ((x * steps).round() / steps) as f32;
        Self(
            placed
                .beat
                .filter(|beat| beat.abs() <= FARTHEST_BEAT)
                .map(|beat| rounded(beat, 1000.0)),
            rounded(placed.hit.contrast_db, 100.0),
            placed.hit.lost_db.map(|lost| rounded(lost, 100.0)),
        )
    }
}

/// Adds a pass to the kept ones; the oldest leaves a full list.
pub(crate) fn keep(kept: &mut Vec<KeptPass>, display: &Display) -> bool {
    let number = kept.iter().map(|pass| pass.number).max().unwrap_or(0).saturating_add(1);
    let Some(pass) = KeptPass::of(display, number) else { return false };
    if kept.len() >= MAX_KEPT {
        kept.remove(0);
    }
    kept.push(pass);
    true
}

/// Brings kept passes that were read from a session into the order that [`KeptPass::at`] needs.
pub(crate) fn admit(mut kept: Vec<KeptPass>) -> Vec<KeptPass> {
    kept.truncate(MAX_KEPT);
    for pass in &mut kept {
        pass.hits.truncate(MAX_KEPT_HITS);
        pass.hits.sort_by(|a, b| a.0.partial_cmp(&b.0).unwrap_or(std::cmp::Ordering::Equal));
    }
    kept
}

/// The history of a saved pass, to go on with.
pub(crate) fn timeline(history: Option<&HistoryReport>) -> Timeline {
    history.map(Timeline::from).unwrap_or_default()
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.retain(|x| x.is_finite());
    brunt_engine::median(&values)
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Hit, Punch};

    use super::*;

    /// Sixty-four hits, a quarter apart, each `contrast` plus its own spread.
    fn display(contrast: f64, lost: f64, beats: bool) -> Display {
        let mut display = Display::default();
        display.readings.punch =
            Punch { contrast_db: Some(contrast), hits: 64, ..Punch::default() };
        display.readings.punch_recent = display.readings.punch;
        display.hits = (0..64)
            .map(|k| {
                let spread = f64::from(k % 5) - 2.0;
                let hit =
                    Hit { contrast_db: contrast + spread, lost_db: Some(lost), ..Hit::default() };
                PlacedHit { hit, beat: beats.then_some(f64::from(k)) }
            })
            .collect();
        display
    }

    #[test]
    fn a_change_is_told_place_by_place() {
        let kept = KeptPass::of(&display(8.0, 0.5, true), 1).expect("hits");
        // The second half of the song, played a little late: the spread cancels place by place.
        let mut now = display(6.5, 2.0, true);
        for placed in &mut now.hits {
            placed.beat = placed.beat.map(|beat| beat + 0.04);
        }
        now.hits.drain(..20);
        let change = kept.change(&now);
        assert_eq!(change.same_places, RECENT_HITS);
        assert!((change.contrast_db.expect("known") + 1.5).abs() < 0.02);
        assert!((change.lost_db.expect("known") - 1.5).abs() < 0.02);
    }

    #[test]
    fn without_places_the_last_hits_stand_beside_the_whole_pass() {
        let kept = KeptPass::of(&display(8.0, 0.5, false), 1).expect("hits");
        let change = kept.change(&display(9.25, 0.25, true));
        assert_eq!((change.same_places, change.contrast_db), (0, Some(1.25)));
    }

    #[test]
    fn three_are_kept_and_numbers_go_on() {
        let mut kept = Vec::new();
        assert!(!keep(&mut kept, &Display::default()), "nothing to keep");
        for _ in 0..5 {
            assert!(keep(&mut kept, &display(8.0, 0.5, true)));
        }
        assert_eq!(kept.iter().map(|pass| pass.number).collect::<Vec<_>>(), [3, 4, 5]);
        let text = serde_json::to_string(&kept).expect("writes");
        let read: Vec<KeptPass> = serde_json::from_str(&text).expect("reads");
        assert_eq!(admit(read), kept);
    }

    #[test]
    fn a_long_pass_stays_small_in_a_session() {
        let mut long = display(8.0, 0.5, true);
        let few = long.hits.clone();
        while long.hits.len() < MAX_KEPT_HITS * 2 {
            long.hits.extend(few.iter().copied());
        }
        let pass = KeptPass::of(&long, 1).expect("hits");
        assert_eq!(pass.hits.len(), MAX_KEPT_HITS);
        let bytes = serde_json::to_string(&pass).expect("writes").len();
        assert!(bytes < 60_000, "{bytes} bytes");
    }
}

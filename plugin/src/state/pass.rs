//! The last pass, saved with the session: the engine's own plain data, and the report that was made
//! of it.
//!
//! What the engine measures is written and read back as it is: a reading that is new there is saved
//! without a line here, and is unknown in a state that was saved before there was any.

use std::sync::Arc;

use brunt_engine::{Compare, Hit, Loudness, Readings, SideRole, Thresholds};
use brunt_report::columns;
use brunt_report::report::{CompareReport, HitReport, Report, Source, ThirdDifference};
use serde::{Deserialize, Serialize};

use crate::display::{BarLine, Display, PlacedHit};
use crate::kept::{self, FARTHEST_BEAT};
use crate::links::Linked;

/// Most hits saved; the newest stay. At about 250 bytes each a session grows by 500 kB at most.
pub const MAX_SAVED_HITS: usize = 2000;
/// Most onsets saved of all parts together; the newest of each stay. At about 10 bytes each.
const MAX_SAVED_ONSETS: usize = 20_000;
/// Most bar lines saved; the newest stay.
const MAX_SAVED_BARS: usize = 1000;

/// A pass as it stands in a session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SavedPass {
    /// The readings of the whole pass.
    pub(super) readings: Readings,
    /// The hits, at most [`MAX_SAVED_HITS`].
    #[serde(with = "columns")]
    pub(super) hits: Vec<PlacedHit>,
    /// Bar lines.
    #[serde(with = "columns")]
    pub(super) bars: Vec<BarLine>,
    /// What was heard of the parts.
    pub(super) linked: Linked,
    /// The report as it was made, without its hits.
    pub(super) report: Report,
}

impl SavedPass {
    /// The pass that is on display, or `None` where nothing has been measured.
    #[must_use]
    pub fn of(display: &Display, thresholds: Thresholds) -> Option<Self> {
        if display.readings.frames == 0 {
            return None;
        }
        let skip = display.hits.len().saturating_sub(MAX_SAVED_HITS);
        let place = |placed: &PlacedHit| PlacedHit {
            beat: placed.beat.filter(|beat| beat.abs() <= FARTHEST_BEAT),
            ..*placed
        };
        let hits: Vec<PlacedHit> = display.hits.iter().skip(skip).map(place).collect();
        let skip_bars = display.bars.len().saturating_sub(MAX_SAVED_BARS);
        let mut report = report(display, &hits, thresholds);
        report.hits.clear();
        Some(Self {
            readings: display.readings,
            hits,
            bars: display.bars.iter().skip(skip_bars).copied().collect(),
            linked: display.linked.kept(),
            report,
        })
    }

    /// The report, with the hits.
    #[must_use]
    pub fn report(&self) -> Report {
        let hits = self.hits.iter().map(|placed| HitReport::at(&placed.hit, 0.0)).collect();
        Report { hits, ..self.report.clone() }
    }

    /// The pass as the editor draws it. What is of a moment, or of the side-chain, stays unknown until
    /// something plays, as do the momentary values and the recent hits.
    #[must_use]
    pub fn display(&self) -> Display {
        let report = &self.report;
        let whole = Readings::default();
        Display {
            readings: Readings {
                loudness: Loudness {
                    momentary_lufs: None,
                    short_term_lufs: None,
                    psr_db: None,
                    ..self.readings.loudness
                },
                punch_recent: whole.punch_recent,
                ceiling_recent: whole.ceiling_recent,
                side: whole.side,
                compare: whole.compare,
                ..self.readings
            },
            linked: Arc::new(self.linked.clone()),
            hits: self.hits.iter().copied().collect(),
            bars: self.bars.iter().copied().collect(),
            song: kept::timeline(report.history.as_ref()),
            shape: report.punch.shape.clone().map(Arc::new),
            drum_shapes: Arc::new(report.punch.shape_by_drum.clone()),
            spectrum: report.punch.spectrum.clone().map(Arc::new),
            side_shape: report.compare.as_ref().and_then(|other| other.shape.clone()).map(Arc::new),
            from_saved_pass: true,
            ..Display::default()
        }
    }
}

/// The report of the pass on display with these of its hits.
fn report(display: &Display, hits: &[PlacedHit], thresholds: Thresholds) -> Report {
    let mix = Source {
        sample_rate_hz: display.sample_rate_hz,
        channels: display.channels,
        duration_s: display.readings.time_s,
        ..Source::default()
    };
    let hits: Vec<Hit> = hits.iter().map(|placed| placed.hit).collect();
    let mut report =
        Report::new(mix, &display.readings, &hits, thresholds).with_history(&display.song);
    report.history = report.history.map(|history| display.with_part_costs(history));
    report.punch.shape = display.shape.as_deref().cloned();
    report.punch.shape_by_drum = display.drum_shapes.to_vec();
    report.punch.spectrum = display.spectrum.as_deref().cloned();
    let compared =
        |compare: &&Compare| matches!(compare.role, SideRole::Before | SideRole::Reference);
    let compare = display.readings.compare.as_ref().filter(compared);
    report.compare = compare.map(|compare| CompareReport {
        shape: display.side_shape.as_deref().cloned(),
        thirds: {
            let balance = &display.readings.balance;
            let other = match compare.role {
                SideRole::Before => &balance.before_thirds_dbfs,
                _ => &balance.reference_thirds_dbfs,
            };
            ThirdDifference::of(&balance.thirds_dbfs, other)
        },
        ..CompareReport::new(compare, None).of_hits(display.readings.punch.hits)
    });
    let onsets = MAX_SAVED_ONSETS / display.linked.parts.len().max(1);
    display.linked.add_to(&mut report, &display.readings.leaks, onsets);
    display.linked.say_unheard(&mut report);
    report.failed = display.fault;
    report
}

#[cfg(test)]
mod tests {
    use brunt_engine::{
        Balance, Ceiling, CeilingKind, Cost, InputHealth, Leaks, Mids, Need, PartLeak, Punch, State,
    };

    use super::*;

    /// A pass with a number of hits and something in every group.
    fn measured(hits: usize) -> Display {
        let cost = Some(Cost { db: 2.5, low_db: 1.5, high_db: 3.5 });
        let placed = |k: usize| PlacedHit {
            hit: Hit {
                index: k as u64,
                frame: 24_000 * k as u64,
                time_s: 0.5 * k as f64,
                true_peak_dbtp: -1.25,
                level_lufs: -10.5,
                bed_lufs: -18.25,
                contrast_db: 7.75,
                attack_ms: 3.5,
                band_dbfs: [f64::NEG_INFINITY; 3],
                small_contrast_db: 4.5,
                lost_db: Some(1.125),
                before_peak_dbtp: None,
                reduction_db: None,
            },
            beat: (k > 0).then_some(k as f64),
        };
        Display {
            readings: Readings {
                frames: 480_000,
                time_s: 10.0,
                loudness: Loudness {
                    integrated_lufs: Some(-9.5),
                    true_peak_dbtp: Some(-0.5),
                    psr_min_db: Some(6.5),
                    ..Loudness::default()
                },
                balance: Balance { mid_deficit_db: Some(2.0), ..Balance::default() },
                punch: Punch { contrast_db: Some(7.75), hits: hits as u64, ..Punch::default() },
                leaks: Leaks {
                    ceiling: Ceiling {
                        state: State::Leaking,
                        cost,
                        kind: Some(CeilingKind::Limiter),
                        implied_reduction_range_db: Some((3.0, 5.0)),
                        ..Ceiling::default()
                    },
                    timing: PartLeak { need: Need::Parts, ..PartLeak::default() },
                    mids: Mids {
                        state: State::Watch,
                        cost,
                        mid_deficit_db: Some(2.0),
                        dip_db: Some(3.5),
                        lift_db: Some(1.5),
                        percentile: Some(88.0),
                        carry_db: Some(1.25),
                        weakness_db: Some(2.75),
                        ..Mids::default()
                    },
                    ..Leaks::default()
                },
                input: InputHealth { nan_samples: 3, inf_samples: 1 },
                ..Readings::default()
            },
            hits: (0..hits).map(placed).collect(),
            bars: [BarLine { time_s: 2.0, number: 2 }].into(),
            sample_rate_hz: 48_000.0,
            channels: 2,
            ..Display::default()
        }
    }

    #[test]
    fn a_pass_comes_back_from_its_json_as_it_was() {
        let display = measured(20);
        let saved = SavedPass::of(&display, Thresholds::default()).expect("something measured");
        let text = serde_json::to_string(&saved).expect("writes");
        let read: SavedPass = serde_json::from_str(&text).expect("reads");
        let back = read.display();
        assert_eq!(back.readings, display.readings);
        assert_eq!(back.hits, display.hits);
        assert_eq!(back.bars, display.bars);
        assert!(back.from_saved_pass);
    }

    #[test]
    fn a_long_pass_is_cut_and_says_so() {
        let display = measured(MAX_SAVED_HITS + 55);
        let saved = SavedPass::of(&display, Thresholds::default()).expect("something measured");
        assert_eq!(saved.report().hits.len(), MAX_SAVED_HITS);
        assert_eq!(saved.display().hits[0].hit, display.hits[55].hit, "the newest stay");
        let bytes = serde_json::to_string(&saved).expect("writes").len();
        assert!(bytes < 600_000, "{bytes} bytes");
    }

    #[test]
    fn nothing_measured_saves_nothing() {
        assert_eq!(SavedPass::of(&Display::default(), Thresholds::default()), None);
    }
}

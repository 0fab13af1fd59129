//! The last pass, saved with the session: the same report that the command line writes, and what
//! the editor needs besides to draw it again.

use std::sync::Arc;

use brunt_engine::parts::drive::beyond_need;
use brunt_engine::{
    Balance, BesideReference, Ceiling, Compare, Cost, Hit, InputHealth, Leaks, Loudness, Mids,
    Need, PartLeak, Punch, Readings, Side, SideRole, SmallSpeaker, THIRDS, Thresholds,
};
use brunt_report::report::{
    CompareReport, DriveReport, HitReport, LeakReport, NeedReport, Report, Source, ThirdDifference,
    TimingLeakReport,
};
use serde::{Deserialize, Serialize};

use crate::display::{BarLine, Display, PlacedHit};
use crate::kept::FARTHEST_BEAT;
use crate::links::Linked;

/// Most hits saved; the newest stay. At about 200 bytes each a session grows by 400 kB at most.
pub const MAX_SAVED_HITS: usize = 2000;
/// Most onsets saved of all parts together; the newest of each stay. At about 10 bytes each.
const MAX_SAVED_ONSETS: usize = 20_000;
/// Most bar lines saved; the newest stay.
const MAX_SAVED_BARS: usize = 1000;

/// A pass as it stands in a session.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SavedPass {
    /// The report, with at most [`MAX_SAVED_HITS`] hits.
    pub report: Report,
    /// Hits that were measured but not saved; the oldest ones.
    pub hits_left_out: u64,
    /// Position in the song of each hit of the report, quarter notes.
    #[serde(default)]
    beats: Vec<Option<f64>>,
    /// Bar lines: time, s of measured programme, and number.
    #[serde(default)]
    bars: Vec<(f64, i64)>,
}

impl SavedPass {
    /// The pass that is on display, or `None` where nothing has been measured.
    #[must_use]
    pub fn of(display: &Display, thresholds: Thresholds) -> Option<Self> {
        if display.readings.frames == 0 {
            return None;
        }
        let skip = display.hits.len().saturating_sub(MAX_SAVED_HITS);
        let kept = display.hits.iter().skip(skip);
        let hits: Vec<Hit> = kept.clone().map(|placed| placed.hit).collect();
        let mix = Source {
            sample_rate_hz: display.sample_rate_hz,
            channels: display.channels,
            duration_s: display.readings.time_s,
            ..Source::default()
        };
        let skip_bars = display.bars.len().saturating_sub(MAX_SAVED_BARS);
        let mut report =
            Report::new(mix, &display.readings, &hits, thresholds).with_history(&display.song);
        report.history = report.history.map(|history| display.with_part_costs(history));
        report.punch.shape = display.shape.as_deref().cloned();
        report.punch.spectrum = display.spectrum.as_deref().cloned();
        let compared =
            |compare: &&Compare| matches!(compare.role, SideRole::Before | SideRole::Reference);
        let compare = display.readings.compare.as_ref().filter(compared);
        report.compare = compare.map(|compare| CompareReport {
            shape: display.side_shape.as_deref().cloned(),
            thirds: ThirdDifference::of(
                &display.readings.balance.thirds_dbfs,
                &display.readings.balance.reference_thirds_dbfs,
            ),
            ..CompareReport::new(compare, None).of_hits(display.readings.punch.hits)
        });
        display.linked.add_to(&mut report, MAX_SAVED_ONSETS / display.linked.parts.len().max(1));
        report.failed = display.fault;
        Some(Self {
            hits_left_out: display.readings.punch.hits.saturating_sub(hits.len() as u64),
            report,
            beats: kept.map(|p| p.beat.filter(|beat| beat.abs() <= FARTHEST_BEAT)).collect(),
            bars: display.bars.iter().skip(skip_bars).map(|b| (b.time_s, b.number)).collect(),
        })
    }

    /// The pass as the editor draws it. What a report does not hold (the momentary values, the
    /// history, the recent hits) stays unknown.
    #[must_use]
    pub fn display(&self) -> Display {
        let report = &self.report;
        let rate_hz = report.mix.sample_rate_hz;
        let hits = report.hits.iter().enumerate().map(|(k, saved)| PlacedHit {
            hit: hit(saved, self.hits_left_out.saturating_add(k as u64), rate_hz),
            beat: self.beats.get(k).copied().flatten(),
        });
        let bars = self.bars.iter().map(|&(time_s, number)| BarLine { time_s, number });
        let readings = readings(report);
        let linked = Linked::saved(report, &readings.leaks).unwrap_or_default();
        Display {
            readings,
            linked: Arc::new(linked),
            hits: hits.collect(),
            bars: bars.collect(),
            shape: report.punch.shape.clone().map(Arc::new),
            spectrum: report.punch.spectrum.clone().map(Arc::new),
            side_shape: report.compare.as_ref().and_then(|other| other.shape.clone()).map(Arc::new),
            from_saved_pass: true,
            ..Display::default()
        }
    }
}

fn hit(saved: &HitReport, index: u64, rate_hz: f64) -> Hit {
    // A report writes what is not finite as null; the engine's hit has no other word for it.
    let number = |x: Option<f64>| x.unwrap_or(f64::NEG_INFINITY);
    Hit {
        index,
        frame: (saved.time_s * rate_hz).round() as u64,
        time_s: saved.time_s,
        true_peak_dbtp: number(saved.true_peak_dbtp),
        level_lufs: number(saved.level_lufs),
        bed_lufs: number(saved.bed_lufs),
        contrast_db: saved.contrast_db.unwrap_or(0.0),
        attack_ms: saved.attack_ms.unwrap_or(0.0),
        band_dbfs: [f64::NEG_INFINITY; 3],
        // A report of an older version lacks it: what is not known does not vanish.
        small_contrast_db: saved.small_contrast_db.unwrap_or(f64::NAN),
        lost_db: saved.lost_db,
        before_peak_dbtp: saved.before_peak_dbtp,
        reduction_db: saved.reduction_db,
    }
}

/// The readings that a report holds. Every field is named: one that is new in the engine does not
/// compile until it is read back here, or said to stay unknown.
fn readings(report: &Report) -> Readings {
    let loudness = &report.loudness;
    let (balance, punch) = (&report.balance, &report.punch);
    Readings {
        frames: (report.mix.duration_s * report.mix.sample_rate_hz).round().max(1.0) as u64,
        time_s: report.mix.duration_s,
        loudness: Loudness {
            integrated_lufs: loudness.integrated_lufs,
            short_term_max_lufs: loudness.short_term_max_lufs,
            momentary_max_lufs: loudness.momentary_max_lufs,
            range_lu: loudness.range_lu,
            true_peak_dbtp: loudness.true_peak_dbtp,
            sample_peak_dbfs: loudness.sample_peak_dbfs,
            plr_db: loudness.plr_db,
            psr_min_db: loudness.psr_min_db,
            psr_median_db: loudness.psr_median_db,
            momentary_lufs: None,
            short_term_lufs: None,
            psr_db: None,
        },
        balance: Balance {
            low_db: balance.low_db,
            mid_db: balance.mid_db,
            high_db: balance.high_db,
            mid_deficit_db: balance.mid_deficit_db,
            thirds_dbfs: balance.thirds_dbfs(),
            // The report holds the difference alone.
            reference_thirds_dbfs: [None; THIRDS],
        },
        punch: Punch {
            contrast_db: punch.contrast_db,
            contrast_p10_db: punch.contrast_p10_db,
            contrast_p90_db: punch.contrast_p90_db,
            hits: punch.hits,
        },
        small_speaker: SmallSpeaker {
            contrast_db: report.small_speaker.contrast_db,
            contrast_p10_db: report.small_speaker.contrast_p10_db,
            contrast_p90_db: report.small_speaker.contrast_p90_db,
            vanished: report.small_speaker.vanished,
        },
        leaks: leaks(report),
        input: InputHealth {
            nan_samples: report.input.nan_samples,
            inf_samples: report.input.inf_samples,
        },
        // What is of a moment, or of the side-chain, stays unknown until something plays.
        punch_recent: Punch::default(),
        ceiling_recent: Ceiling::default(),
        side: Side::default(),
        compare: None,
    }
}

fn leaks(report: &Report) -> Leaks {
    let (ceiling, mids) = (&report.leaks.ceiling, &report.leaks.mids);
    let (of_ceiling, of_mids) = (part(&ceiling.leak), part(&mids.leak));
    let range = ceiling.implied_reduction_low_db.zip(ceiling.implied_reduction_high_db);
    Leaks {
        ceiling: Ceiling {
            state: of_ceiling.state,
            need: of_ceiling.need,
            cost: of_ceiling.cost,
            implied_reduction_db: ceiling.implied_reduction_db,
            implied_reduction_p90_db: ceiling.implied_reduction_p90_db,
            implied_reduction_max_db: ceiling.implied_reduction_max_db,
            implied_reduction_range_db: range,
            at_least: ceiling.at_least,
            unlike: ceiling.unlike,
            ceiling_dbtp: ceiling.ceiling_dbtp,
            hits_at_ceiling: ceiling.hits_at_ceiling,
            kind: ceiling.kind,
            measured: ceiling.measured,
        },
        timing: timing(&report.leaks.timing),
        clutter: part(&report.leaks.clutter),
        drive: drive(&report.leaks.drive),
        mids: Mids {
            state: of_mids.state,
            need: of_mids.need,
            cost: of_mids.cost,
            mid_deficit_db: mids.mid_deficit_db,
            dip_db: mids.dip_db,
            lift_db: mids.lift_db,
            percentile: mids.percentile,
            carry_db: mids.carry_db,
            weakness_db: mids.weakness_db,
            beside: mids
                .weakness_over_reference_db
                .zip(mids.deficit_over_reference_db)
                .map(|(weakness_db, deficit_db)| BesideReference { weakness_db, deficit_db }),
            shape: mids.shape,
        },
    }
}

fn timing(timing: &TimingLeakReport) -> PartLeak {
    let attack = timing.shared_attack_cost_db.map(|db| Cost {
        db,
        low_db: timing.shared_attack_cost_low_db.unwrap_or(db),
        high_db: timing.shared_attack_cost_high_db.unwrap_or(db),
    });
    PartLeak { attack, ..part(&timing.leak) }
}

fn part(leak: &LeakReport) -> PartLeak {
    let cost = leak.cost_db.map(|db| Cost {
        db,
        low_db: leak.cost_low_db.unwrap_or(db),
        high_db: leak.cost_high_db.unwrap_or(db),
    });
    PartLeak {
        state: leak.state,
        need: leak.need.map_or(Need::Nothing, need),
        cost,
        measured: leak.remeasured.unwrap_or(false),
        ..PartLeak::default()
    }
}

fn drive(drive: &DriveReport) -> PartLeak {
    let attack_lost = drive.attack_lost_db.map(|db| Cost {
        db,
        low_db: drive.attack_lost_low_db.unwrap_or(db),
        high_db: drive.attack_lost_high_db.unwrap_or(db),
    });
    PartLeak { attack: attack_lost.map(beyond_need), attack_lost, ..part(&drive.leak) }
}

fn need(saved: NeedReport) -> Need {
    match saved {
        NeedReport::Signal => Need::Signal,
        NeedReport::Hits { have, want } => Need::Hits { have, want },
        NeedReport::Programme { have_s, want_s } => Need::Programme { have_s, want_s },
        NeedReport::Evidence => Need::Evidence,
        NeedReport::Alike => Need::Alike,
        NeedReport::SampleRate => Need::SampleRate,
        NeedReport::Parts => Need::Parts,
        NeedReport::GuitarPart => Need::GuitarPart,
        NeedReport::Mix => Need::Mix,
        NeedReport::Shared { have, want } => Need::Shared { have, want },
        NeedReport::Notes { have, want } => Need::Notes { have, want },
    }
}

#[cfg(test)]
mod tests {
    use brunt_engine::{CeilingKind, State};

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
        assert_eq!(saved.report.hits.len(), MAX_SAVED_HITS);
        assert_eq!(saved.hits_left_out, 55);
        assert_eq!(saved.display().hits[0].hit, display.hits[55].hit, "the newest stay");
        let bytes = serde_json::to_string(&saved).expect("writes").len();
        assert!(bytes < 600_000, "{bytes} bytes");
    }

    #[test]
    fn nothing_measured_saves_nothing() {
        assert_eq!(SavedPass::of(&Display::default(), Thresholds::default()), None);
    }
}

//! A pass as version 5 saved it: a report, which everything is read back from. Nothing is added
//! here any more: what came after that version is not known of such a pass.
#![allow(clippy::needless_update, reason = "a reading that is new must not stop what is old")]

use brunt_engine::parts::drive::beyond_need;
use brunt_engine::parts::{PartCosts, PartRole};
use brunt_engine::{
    Balance, BesideReference, Ceiling, Cost, Hit, Leaks, Loudness, Mids, PartLeak, Readings,
};
use brunt_report::report::{
    DeviationReport, DriveReport, HitReport, LeakReport, PART_LEAKS, PartReport, Report,
    TimingLeakReport,
};
use serde::Deserialize;

use crate::links::{Linked, LinkedPart, LinkedReading, PartStatus, Said};
use crate::model::place::{BarLine, PlacedHit};
use crate::state::SavedPass;

/// The pass.
#[derive(Deserialize)]
pub(super) struct Pass5 {
    report: Report,
    /// Hits that were measured but not saved; the oldest ones.
    hits_left_out: u64,
    /// Position in the song of each hit of the report, quarter notes.
    #[serde(default)]
    beats: Vec<Option<f64>>,
    /// Bar lines: time, s of measured programme, and number.
    #[serde(default)]
    bars: Vec<(f64, i64)>,
}

impl From<Pass5> for SavedPass {
    fn from(pass: Pass5) -> Self {
        let Pass5 { mut report, hits_left_out, beats, bars } = pass;
        let rate_hz = report.mix.sample_rate_hz;
        let hits = report.hits.iter().enumerate().map(|(k, saved)| PlacedHit {
            hit: hit(saved, hits_left_out.saturating_add(k as u64), rate_hz),
            beat: beats.get(k).copied().flatten(),
        });
        let hits = hits.collect();
        let readings = readings(&report);
        let linked = linked(&report, &readings.leaks);
        report.hits.clear();
        let bars = bars.iter().map(|&(time_s, number)| BarLine { time_s, number }).collect();
        Self { readings, hits, bars, linked, report }
    }
}

fn hit(saved: &HitReport, index: u64, rate_hz: f64) -> Hit {
    // A report writes as null what is no finite number: of a level, silence.
    let level = |x: Option<f64>| x.unwrap_or(f64::NEG_INFINITY);
    let number = |x: Option<f64>| x.unwrap_or(f64::NAN);
    Hit {
        index,
        frame: (saved.time_s * rate_hz).round() as u64,
        time_s: saved.time_s,
        true_peak_dbtp: level(saved.true_peak_dbtp),
        level_lufs: level(saved.level_lufs),
        bed_lufs: level(saved.bed_lufs),
        contrast_db: number(saved.contrast_db),
        attack_ms: number(saved.attack_ms),
        band_dbfs: [f64::NEG_INFINITY; 3],
        // Where it is not known, nothing vanishes.
        small_contrast_db: number(saved.small_contrast_db),
        lost_db: saved.lost_db,
        before_peak_dbtp: saved.before_peak_dbtp,
        reduction_db: saved.reduction_db,
        ..Hit::default()
    }
}

/// The readings that a report of that time holds; what came later stays unknown.
fn readings(report: &Report) -> Readings {
    let loudness = &report.loudness;
    let balance = &report.balance;
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
            ..Loudness::default()
        },
        balance: Balance {
            low_db: balance.low_db,
            mid_db: balance.mid_db,
            high_db: balance.high_db,
            mid_deficit_db: balance.mid_deficit_db,
            thirds_dbfs: std::array::from_fn(|k| {
                balance.thirds.get(k).and_then(|third| third.level_dbfs)
            }),
            // The report holds the difference alone.
            ..Balance::default()
        },
        punch: report.punch.over_hits,
        small_speaker: report.small_speaker.over_hits,
        leaks: leaks(report),
        input: report.input,
        ..Readings::default()
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
            ..Ceiling::default()
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
            ..Mids::default()
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
        need: leak.need.unwrap_or_default(),
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

/// The parts as the report has them.
fn linked(report: &Report, leaks: &Leaks) -> Linked {
    if report.parts.is_empty() {
        return Linked::default();
    }
    let reference = report.timing.as_ref().and_then(|timing| timing.reference.as_deref());
    let part = |part: &PartReport| LinkedPart {
        name: part.file.clone(),
        role: PartRole::from_code(&part.role).unwrap_or_default(),
        suggested: part.role_suggested.as_deref().and_then(PartRole::from_code),
        status: PartStatus::Heard,
        reference: reference == Some(&part.file),
        offset_ms: part.offset_ms,
        spread_ms: part.spread_ms,
        costs: PartCosts {
            timing_db: part.leak_costs_db.timing,
            clutter_db: part.leak_costs_db.clutter,
            drive_db: part.leak_costs_db.drive,
        },
        passages: part.timing.iter().flat_map(DeviationReport::passages).collect(),
        doubles: report
            .timing
            .iter()
            .flat_map(|timing| &timing.doubles)
            .filter(|double| double.second == part.file)
            .map(|double| double.says.clone())
            .collect(),
        ceiling: part.ceiling.clone(),
        ..LinkedPart::default()
    };
    let said = |kind| {
        let leak = report.leak(kind);
        Said { says: leak.says.clone(), advice: leak.advice.clone() }
    };
    let reading = LinkedReading {
        leaks: [leaks.timing, leaks.clutter, leaks.drive],
        said: PART_LEAKS.map(said),
        ..LinkedReading::default()
    };
    let parts = report.parts.iter().map(part).collect();
    Linked { parts, reading: Some(reading), ..Linked::default() }
}

//! Readings of an invented song, 118 beats a minute: numbers of our own, as a mix could give them.

mod linked;
mod shapes;

use std::sync::Arc;

use brunt::audition::{Heard, Match, Status};
use brunt::display::{BarLine, Display, Live, PlacedHit};
use brunt::kept::KeptPass;
use brunt::links::{Linked, LinkedPart, LinkedReading, PartStatus, Said};
use brunt::song::PlaceMark;
use brunt_engine::parts::timing::Passage;
use brunt_engine::parts::{HitGain, PartCosts, PartRole, PartsReading, PlaceCosts, RoleSuggestion};
use brunt_engine::{
    Alignment, Balance, BesideReference, Ceiling, CeilingKind, Compare, Cost, HistoryPoint, Hit,
    Leaks, Loudness, Mids, Need, PartLeak, Punch, Readings, Relation, Shape, Side, SideRole, State,
};
use brunt_report::report::PartCeilingReport;

pub use linked::{doubted, drums, linked, linked_as, linked_limited, many_linked, sounding};
pub use shapes::{by_drum, shape_of_reference, shaved, with_shape};

const BEAT_S: f64 = 60.0 / 118.0;
const BARS: usize = 21;

/// Nothing has played yet.
pub fn empty() -> Display {
    let signal = PartLeak { need: Need::Signal, ..PartLeak::default() };
    let leaks = Leaks {
        ceiling: Ceiling { need: Need::Signal, ..Ceiling::default() },
        timing: signal,
        clutter: signal,
        drive: signal,
        mids: Mids { need: Need::Signal, ..Mids::default() },
    };
    let readings = Readings { leaks, ..Readings::default() };
    Display { readings, sample_rate_hz: 48_000.0, channels: 2, ..Display::default() }
}

/// A little has played: too little for any leak.
pub fn unknown() -> Display {
    let mut display = song(0.0, 3);
    let few = Need::Hits { have: 9, want: 24 };
    display.readings.leaks = Leaks {
        ceiling: Ceiling { need: few, ..Ceiling::default() },
        mids: Mids { need: Need::Programme { have_s: 6.1, want_s: 10.0 }, ..Mids::default() },
        ..parts_missing()
    };
    display.readings.balance = Balance::default();
    display
}

/// A clean mix.
pub fn clean() -> Display {
    let mut display = song(0.0, BARS);
    display.readings.leaks = Leaks {
        ceiling: Ceiling {
            state: State::Clear,
            need: Need::Nothing,
            cost: Some(Cost { db: 0.1, low_db: 0.0, high_db: 0.4 }),
            implied_reduction_db: Some(0.0),
            implied_reduction_p90_db: Some(0.2),
            implied_reduction_max_db: Some(0.4),
            implied_reduction_range_db: Some((0.0, 0.3)),
            at_least: false,
            unlike: Some(0.8),
            ceiling_dbtp: None,
            hits_at_ceiling: Some(0),
            kind: Some(CeilingKind::None),
            measured: false,
        },
        mids: Mids {
            state: State::Clear,
            need: Need::Nothing,
            cost: Some(Cost { db: 0.3, low_db: 0.1, high_db: 0.6 }),
            mid_deficit_db: Some(0.6),
            ..Mids::default()
        },
        ..parts_missing()
    };
    display
}

/// The same mix, 6 dB too far into a limiter, with weak mids.
pub fn ceiling() -> Display {
    let mut display = song(1.0, BARS);
    display.readings.leaks = Leaks {
        ceiling: Ceiling {
            state: State::Leaking,
            need: Need::Nothing,
            cost: Some(Cost { db: 3.1, low_db: 2.2, high_db: 4.3 }),
            implied_reduction_db: Some(5.2),
            implied_reduction_p90_db: Some(7.7),
            implied_reduction_max_db: Some(9.0),
            implied_reduction_range_db: Some((4.3, 6.1)),
            at_least: false,
            unlike: Some(0.8),
            ceiling_dbtp: Some(-1.0),
            hits_at_ceiling: Some(118),
            kind: Some(CeilingKind::Limiter),
            measured: false,
        },
        mids: Mids {
            state: State::Watch,
            need: Need::Nothing,
            cost: Some(Cost { db: 1.3, low_db: 0.8, high_db: 1.9 }),
            mid_deficit_db: Some(3.4),
            weakness_db: Some(3.1),
            percentile: Some(88.0),
            ..Mids::default()
        },
        ..parts_missing()
    };
    display.readings.balance = Balance {
        low_db: Some(1.9),
        mid_db: Some(-2.6),
        high_db: Some(0.7),
        mid_deficit_db: Some(3.4),
        ..Balance::default()
    };
    display.readings.side =
        Side { signal: true, momentary_lufs: Some(-15.8), integrated_lufs: Some(-16.4) };
    display
}

/// A rate that cannot be measured.
pub fn unmeasured_rate() -> Display {
    Display { sample_rate_hz: 768_000.0, ..empty() }
}

/// The side-chain is heard in place of the mix, and the guard acts.
pub fn listening() -> Display {
    let mut display = ceiling();
    let found = Match { mix_lufs: -10.3, side_lufs: -13.5, passage_s: 21.4, sure: true };
    let status = Status {
        heard: Heard::Side,
        gain_db: Some(3.2),
        found: Some(found),
        out_of_reach_lu: 0.0,
        guard_db: Some(2.1),
    };
    display.listening = (status, None);
    display
}

/// The mix before the limiter is on the side-chain, and was found there.
pub fn before() -> Display {
    let mut display = ceiling();
    display.readings.compare = Some(Compare {
        role: SideRole::Before,
        suggested_role: Some(SideRole::Before),
        alignment: Alignment {
            relation: Relation::Found,
            delay_frames: Some(-592.5),
            delay_ms: Some(-12.34),
            inverted: true,
            likeness: Some(0.97),
        },
        passage_s: 41.2,
        loudness_difference_lu: Some(6.1),
        gain_db: Some(6.4),
        gain_range_db: Some(0.2),
        limiter_rests: None,
        equalised: Some(true),
        hits: 160,
        lost_db_median: Some(4.8),
        reduction_db_median: Some(5.1),
        reduction_db_p90: Some(7.6),
        reduction_db_max: Some(10.2),
        contrast_difference_db: Some(-3.4),
        contrast_difference_range_db: Some((-3.9, -2.9)),
        band_difference_db: Some([Some(-1.2), Some(0.3), Some(0.9)]),
    });
    display
}

/// The same behind a limiter that never rests.
pub fn never_rests() -> Display {
    let mut display = before();
    if let Some(compare) = &mut display.readings.compare {
        compare.equalised = Some(false);
        compare.limiter_rests = Some(false);
    }
    display
}

/// A reference is on the side-chain, and its mids are stronger.
pub fn reference() -> Display {
    let mut display = before();
    display.readings.leaks.mids = Mids {
        state: State::Leaking,
        beside: Some(BesideReference { weakness_db: 4.3, deficit_db: 5.0 }),
        shape: Some(Shape::BoostedExtremes),
        ..display.readings.leaks.mids
    };
    if let Some(compare) = &mut display.readings.compare {
        *compare = Compare {
            role: SideRole::Reference,
            suggested_role: Some(SideRole::Reference),
            contrast_difference_db: Some(-2.2),
            band_difference_db: Some([Some(2.4), Some(-3.1), None]),
            ..Compare::default()
        };
    }
    display
}

/// The same mix further into the limiter than when two passes were kept, with its history.
pub fn kept() -> Display {
    let mut display = with_history(ceiling());
    let before = with_history(clean());
    display.kept = [1, 2].into_iter().filter_map(|number| KeptPass::of(&before, number)).collect();
    display
}

/// The display with a history of the whole pass.
pub fn with_history(mut display: Display) -> Display {
    let readings = display.readings;
    for k in 1..=(readings.time_s * 10.0) as usize {
        let time_s = k as f64 / 10.0;
        let wave = (time_s * 0.7).sin();
        let point = HistoryPoint {
            time_s,
            short_term_lufs: readings.loudness.short_term_lufs.map(|lufs| lufs + wave),
            true_peak_dbtp: readings.loudness.true_peak_dbtp,
            contrast_db: readings.punch.contrast_db.map(|db| db - wave),
            costs_db: readings.leaks.costs_db().map(|cost| cost.map(|db| db + 0.2 * wave)),
        };
        display.song.add(&point);
        display.fine.add(&point);
    }
    display
}

/// A song of verses and choruses, three minutes of it: start of each section, s, its loudness, LUFS,
/// and its hit contrast, dB.
pub const SECTIONS: [(f64, f64, f64); 6] = [
    (0.0, -17.0, 9.5),
    (22.0, -14.0, 7.5),
    (64.0, -10.5, 4.5),
    (96.0, -14.5, 7.5),
    (128.0, -10.5, 4.0),
    (162.0, -18.0, 9.0),
];

/// The mix of [`ceiling`] with the history of [`SECTIONS`].
pub fn sections() -> Display {
    let mut display = ceiling();
    display.readings.time_s = 184.0;
    // The last of them are kept.
    display.readings.punch.hits += 300;
    for k in 1..=(display.readings.time_s * 10.0) as usize {
        let time_s = k as f64 / 10.0;
        let wave = (time_s * 0.7).sin() + 0.4 * (time_s * 2.1).sin();
        let part = SECTIONS.iter().rev().find(|part| part.0 < time_s).expect("the first begins");
        let cost = 1.2 + (9.0 - part.2) * 0.5 + 0.15 * wave;
        let point = HistoryPoint {
            time_s,
            short_term_lufs: Some(part.1 + 0.6 * wave),
            true_peak_dbtp: display.readings.loudness.true_peak_dbtp,
            contrast_db: Some(part.2 - 0.4 * wave),
            costs_db: [Some(cost), None, None, None, Some(0.4)],
        };
        display.song.add(&point);
        display.fine.add(&point);
    }
    display
}

/// The same with parts that play from the second section to the fifth: loose in the third, thick in
/// the fourth, and a pause of the host after 110 s. The song starts at 30 s of the host's.
pub fn lanes() -> Display {
    let mut display = sections();
    let mut reading = PartsReading::default();
    for k in 0..280 {
        let time_s = 52.0 + f64::from(k) * 0.5;
        let (section, wave) = (time_s - 30.0, 0.3 * (time_s * 0.9).sin());
        let gain = |db| HitGain { time_s, db };
        let third = (64.0..96.0).contains(&section);
        reading.timing.gains.push(gain(if third { 3.1 } else { 0.5 } + wave));
        let fourth = (96.0..128.0).contains(&section);
        reading.clutter.gains.push(gain(if fourth { 2.4 } else { 0.3 } - wave));
        if third {
            reading.drive.gains.push(gain(0.9));
        }
    }
    let mut costs = PlaceCosts::default();
    costs.take(&reading, (52.0, 192.0));
    let linked = Linked { places: costs.into(), ..(*linked().linked).clone() };
    linked.fill(&mut display.readings.leaks);
    display.linked = Arc::new(linked);
    let mark = |time_s, song_s| PlaceMark { time_s, song_s };
    let marks = [mark(0.0, Some(30.0)), mark(110.0, None), mark(114.0, Some(144.0))];
    display.places = marks.into();
    display
}

/// Everything known, every row as long as it gets, damaged input, drops.
pub fn crowded() -> Display {
    let mut display = ceiling();
    let leaking = |db: f64| PartLeak {
        state: State::Leaking,
        cost: Some(Cost { db, low_db: db - 1.1, high_db: db + 1.6 }),
        ..PartLeak::default()
    };
    display.readings.leaks.timing = leaking(2.4);
    display.readings.leaks.clutter = leaking(4.4);
    display.readings.leaks.drive = leaking(11.4);
    display.readings.leaks.mids.state = State::Leaking;
    display.readings.input.nan_samples = 1_234_567;
    display.readings.input.inf_samples = 12;
    display.readings.time_s = 7_322.0;
    for placed in &mut display.hits {
        placed.hit.time_s += 7_322.0 - 43.0;
    }
    display.bars.clear();
    display.dropped = 40_112;
    display.bypassed = true;
    display.fault = true;
    display.listening = listening().listening;
    display
}

fn parts_missing() -> Leaks {
    Leaks {
        timing: PartLeak { need: Need::Parts, ..PartLeak::default() },
        clutter: PartLeak { need: Need::Parts, ..PartLeak::default() },
        drive: PartLeak { need: Need::GuitarPart, ..PartLeak::default() },
        ..Leaks::default()
    }
}

/// `squash` from 0 (as mixed) to 1 (far into a limiter).
fn song(squash: f64, bars: usize) -> Display {
    // Kick, hat, snare, hat in eighths, with a ghost and an open hat: contrast in dB as mixed.
    let pattern = [14.8, 6.2, 12.9, 7.0, 13.6, 5.8, 13.4, 8.6];
    let mut hits = Vec::new();
    for bar in 0..bars {
        for (eighth, contrast) in pattern.into_iter().enumerate() {
            // Every fourth bar leaves its last hat out.
            if bar % 4 == 3 && eighth == 7 {
                continue;
            }
            // A spread that looks played: a fixed sequence, not a random one.
            let spread = f64::from(((bar * 37 + eighth * 61) % 17) as u32) / 17.0 - 0.5;
            let open = contrast + 2.2 * spread;
            let lost = squash * (open - 8.0).max(0.0) * 0.72;
            let beat = (bar * 4) as f64 + eighth as f64 / 2.0;
            let time_s = beat * BEAT_S + 0.012;
            hits.push(PlacedHit {
                hit: Hit {
                    index: hits.len() as u64,
                    frame: (time_s * 48_000.0) as u64,
                    time_s,
                    true_peak_dbtp: (-1.0 - (15.5 - open) * (1.0 - squash) * 0.8).min(-1.0),
                    level_lufs: -8.0 - (15.5 - open) * 0.5,
                    bed_lufs: -22.0 + spread,
                    contrast_db: open - lost,
                    attack_ms: 1.8 + spread.abs() * 4.0,
                    band_dbfs: [-14.0, -18.0, -26.0],
                    small_contrast_db: 4.0,
                    lost_db: (squash > 0.0).then_some(lost),
                    before_peak_dbtp: None,
                    reduction_db: None,
                },
                beat: Some(beat),
            });
        }
    }
    let mut contrasts: Vec<f64> =
        hits.iter().rev().take(32).map(|placed| placed.hit.contrast_db).collect();
    contrasts.sort_by(f64::total_cmp);
    let at = |part: f64| contrasts.get((part * (contrasts.len() - 1) as f64) as usize).copied();
    let punch = |hits: u64| Punch {
        contrast_db: at(0.5),
        contrast_p10_db: at(0.1),
        contrast_p90_db: at(0.9),
        hits,
    };
    let time_s = bars as f64 * 4.0 * BEAT_S + 0.21;
    let loud = 6.0 * squash;
    let loudness = Loudness {
        momentary_lufs: Some(-15.2 + loud),
        short_term_lufs: Some(-15.9 + loud),
        integrated_lufs: Some(-16.3 + loud),
        momentary_max_lufs: Some(-13.1 + loud),
        short_term_max_lufs: Some(-14.8 + loud),
        range_lu: Some(6.4 - 2.9 * squash),
        true_peak_dbtp: Some(-1.2 + 0.2 * squash),
        sample_peak_dbfs: Some(-1.4 + 0.2 * squash),
        plr_db: Some(15.1 - loud),
        psr_db: Some(14.4 - loud),
        psr_min_db: Some(11.8 - loud),
        psr_median_db: Some(13.9 - loud),
    };
    let readings = Readings {
        frames: (time_s * 48_000.0) as u64,
        time_s,
        loudness,
        balance: Balance {
            low_db: Some(0.8),
            mid_db: Some(0.4),
            high_db: Some(-1.2),
            mid_deficit_db: Some(0.6),
            ..Balance::default()
        },
        punch: punch(hits.len() as u64),
        punch_recent: punch(hits.len().min(32) as u64),
        ..Readings::default()
    };
    Display {
        live: Live {
            momentary_lufs: loudness.momentary_lufs,
            short_term_lufs: loudness.short_term_lufs,
            true_peak_dbtp: loudness.true_peak_dbtp,
            psr_db: loudness.psr_db,
        },
        readings,
        hits: hits.into(),
        bars: (0..=bars)
            .map(|bar| BarLine { time_s: (bar * 4) as f64 * BEAT_S, number: bar as i64 + 17 })
            .collect(),
        sample_rate_hz: 48_000.0,
        channels: 2,
        playing: true,
        generation: 1,
        ..Display::default()
    }
}

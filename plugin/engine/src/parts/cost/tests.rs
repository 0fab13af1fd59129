//! Closed forms: parts of powers that are known from cell to cell.

use super::*;
use crate::parts::{PartCell, PartOnset};

/// A part at 1 kHz cells: its power at each millisecond, and an onset every `every` ms.
fn part(role: PartRole, every: usize, power: impl Fn(usize) -> f32) -> PartTrack {
    let cell = |ms: usize| PartCell { weighted: power(ms), ..PartCell::default() };
    PartTrack {
        role,
        sample_rate_hz: 48_000.0,
        cell_frames: 48,
        cells: (0..20_000).map(cell).collect(),
        onsets: (1..20_000 / every)
            .map(|n| PartOnset { frame: (n * every * 48) as u64, ..PartOnset::default() })
            .collect(),
        ..PartTrack::default()
    }
}

/// Closed form: drums of power 1 for 20 ms and 0.01 between, a layer of 0.09; without the layer
/// the contrast goes from 10 log10(1.09 / 0.1) to 10 log10(1 / 0.01).
#[test]
fn taking_a_steady_layer_out_gives_back_its_share_of_the_bed() {
    let drums = part(PartRole::Drums, 500, |ms| if ms % 500 < 20 { 1.0 } else { 0.01 });
    let layer = part(PartRole::Other, 20_000, |_| 0.09);
    let arrangement = Arrangement::new(&[drums, layer]);
    let before = 10.0 * (1.09f64 / 0.1).log10();
    let after = 10.0 * (1.0f64 / 0.01).log10();
    // The first and the last hit lack surroundings on one side, at the same mean.
    assert!(arrangement.contrast_db().iter().all(|db| (db - before).abs() < 1e-3));
    let silent = vec![0.0; arrangement.sum().len()];
    let cost = arrangement.cost(&[(1, silent)]).expect("39 hits");
    for db in [cost.db, cost.low_db, cost.high_db] {
        assert!((db - (after - before)).abs() < 1e-3, "{cost:?}");
    }
}

#[test]
fn the_range_holds_the_median_and_narrows_with_agreement() {
    // Evenly spread over 4 dB. Closed form: the median of n draws of a uniform variable is a beta
    // variable with both parameters (n + 1) / 2, whose variance is 1 / (4 (n + 2)). 90 % of it lie
    // within 1.645 times its root, as of a normal one.
    let spread = |count: u32| -> Vec<f64> {
        (0..count).map(|n| 4.0 * f64::from(n * 7 % count) / f64::from(count - 1)).collect()
    };
    for count in [101, 401] {
        let cost = cost(&spread(count)).expect("many");
        let want = 2.0 * 1.645 * 4.0 / (2.0 * f64::from(count + 2).sqrt());
        assert!((cost.db - 2.0).abs() < 1e-9, "{cost:?}");
        assert!((cost.high_db - cost.low_db - want).abs() < 0.3 * want, "{cost:?}");
    }
}

#[test]
fn too_few_hits_give_no_cost() {
    let drums = part(PartRole::Drums, 4_000, |ms| if ms % 4_000 < 20 { 1.0 } else { 0.01 });
    let arrangement = Arrangement::new(&[drums]);
    assert_eq!(arrangement.main_hits().len(), 4);
    assert_eq!(arrangement.cost(&[]), None);
}

/// By hand, in cells of 2 ms: what two drum tracks strike within 8 ms is one hit, 28 ms apart are two.
#[test]
fn strokes_of_one_moment_are_one_hit() {
    let track = |late: u64| PartTrack {
        cell_frames: 96,
        onsets: (1..10)
            .map(|n| PartOnset { frame: 96 * (500 * n + late), ..PartOnset::default() })
            .collect(),
        ..part(PartRole::Drums, 20_000, |cell| if cell % 500 < 20 { 1.0 } else { 0.01 })
    };
    for (late, hits) in [(4, 9), (14, 18)] {
        let arrangement = Arrangement::new(&[track(0), track(late)]);
        assert_eq!((arrangement.parts(), arrangement.hits().len()), (2, hits), "{late} cells");
    }
}

/// Strokes that are as far apart as the limit are two hits, in cells of 1 ms; just under it they are one.
#[test]
fn strokes_at_the_limit_are_two_hits() {
    let track = |late: u64| {
        let mut track = part(PartRole::Drums, 500, |_| 1.0);
        track.onsets.iter_mut().for_each(|onset| onset.frame += 48 * late);
        track
    };
    let limit = l::SAME_HIT_MS as u64;
    for (late, hits) in [(limit - 1, 39), (limit, 78)] {
        assert_eq!(Arrangement::new(&[track(0), track(late)]).hits().len(), hits, "{late} ms");
    }
}

/// Hits are the drums' strokes; without drums those of all parts, which lie 300 and 500 ms apart here.
#[test]
fn drums_alone_make_the_hits_where_there_are_drums() {
    let two = |first: PartRole| {
        let parts = [part(first, 500, |_| 1.0), part(PartRole::Guitars, 300, |_| 1.0)];
        let arrangement = Arrangement::new(&parts);
        assert_eq!((arrangement.role(0), arrangement.role(1)), (first, PartRole::Guitars));
        assert_eq!((arrangement.onsets(0).len(), arrangement.onsets(1).len()), (39, 65));
        arrangement
    };
    let (with, without) = (two(PartRole::Drums), two(PartRole::Bass));
    assert!(with.has_drums() && !without.has_drums());
    let every = |ms: u32| (1..20_000 / ms).map(move |n| f64::from(n * ms));
    assert_eq!(with.hits(), every(500).collect::<Vec<_>>());
    let mut both: Vec<f64> = every(500).chain(every(300)).collect();
    both.sort_by(f64::total_cmp);
    both.dedup();
    assert_eq!(without.hits(), both);
}

/// Main hits are within 10 dB of the loud ones, which every other one is here; of silence none is.
#[test]
fn main_hits_are_those_near_the_loud_ones() {
    let drums = |soft: f32| {
        part(PartRole::Drums, 500, move |ms| match (ms % 500 < 20, ms / 500 % 2) {
            (true, 0) => 1.0,
            (true, _) => soft,
            _ => 1e-4,
        })
    };
    let near = 10f32.powf(-l::MAIN_HIT_DB as f32 / 10.0);
    for (soft, main) in [(1.1 * near, 39), (0.9 * near, 19)] {
        let arrangement = Arrangement::new(&[drums(soft)]);
        assert_eq!((arrangement.hits().len(), arrangement.main_hits().len()), (39, main), "{soft}");
        assert!(
            arrangement.main_hits().eq(arrangement.main().iter().map(|&n| arrangement.hits()[n]))
        );
    }
    let silent = Arrangement::new(&[part(PartRole::Drums, 500, |_| 0.0)]);
    assert_eq!((silent.hits().len(), silent.main_hits().len()), (39, 0));
}

/// Two parts of which one starts 3 s later and 2.5 cells on: cells of 2 ms, the first 1 s into the song.
#[test]
fn parts_lie_on_one_timeline() {
    let track = |start: u64, power: f32| PartTrack {
        cell_frames: 96,
        start_frame: start as i64,
        cells: vec![PartCell { weighted: power, ..PartCell::default() }; 5_000],
        onsets: vec![PartOnset { frame: 96 * 100, ..PartOnset::default() }],
        ..part(PartRole::Drums, 20_000, |_| 0.0)
    };
    let arrangement =
        Arrangement::new(&[track(48_000 + 1_500 * 96 + 48, 1.0), track(48_000, 0.25)]);
    assert_eq!(arrangement.cell_ms(), 2.0);
    assert_eq!((arrangement.start(0), arrangement.start(1)), (1_501, 0));
    assert_eq!((arrangement.onsets(0), arrangement.onsets(1)), (&[1_600.5][..], &[100.0][..]));
    let near = |got: f64, want: f64| assert!((got - want).abs() < 1e-12, "{got} for {want}");
    near(arrangement.time_s(0.0), 1.0);
    near(arrangement.time_s(1_600.5), 4.201);
    let power = arrangement.power(0);
    assert!(
        power[..1_501].iter().all(|p| *p == 0.0) && power[1_501..6_501].iter().all(|p| *p == 1.0)
    );
    let sum = arrangement.sum();
    for (cell, want) in [(0, 0.25), (1_500, 0.25), (1_501, 1.25), (4_999, 1.25), (5_000, 1.0)] {
        assert_eq!(sum[cell], want, "cell {cell}");
    }
    let gains = arrangement.gains_at(&[0.5, -0.25]);
    assert_eq!((gains.len(), arrangement.counted_s().len()), (2, 2));
    for (n, want) in [1.2, 4.201].into_iter().enumerate() {
        near(arrangement.counted_s()[n], want);
        near(gains[n].time_s, want);
    }
}

/// By the closed form of a steady layer under drums, as above.
#[test]
fn a_part_turned_down_gives_back_its_share() {
    let parts = |every: usize| {
        let power = move |ms: usize| if ms % every < 20 { 1.0 } else { 0.01 };
        [part(PartRole::Drums, every, power), part(PartRole::Other, 20_000, |_| 0.09)]
    };
    let arrangement = Arrangement::new(&parts(500));
    let db = |layer: f64| 10.0 * ((1.0 + layer) / (0.01 + layer)).log10();
    for share in [0.0f32, 0.25, 1.0] {
        let want = db(0.09 * f64::from(share)) - db(0.09);
        let got = arrangement.if_gained_db(1, share).expect("39 hits");
        assert!((got - want).abs() < 1e-3, "{share}: {got} for {want}");
    }
    // A cost needs 16 main hits.
    for (every, enough) in [(1_175, true), (1_250, false)] {
        let arrangement = Arrangement::new(&parts(every));
        let count = arrangement.main_hits().len();
        assert_eq!(count, if enough { l::LEAST_MAIN_HITS } else { l::LEAST_MAIN_HITS - 1 });
        assert_eq!(arrangement.if_gained_db(1, 0.5).is_some(), enough);
        assert_eq!(arrangement.cost(&[]).is_some(), enough);
    }
}

/// Closed form: drums of power 1 for 20 ms over 0.01, which are 20 dB of contrast, and a layer that is silent
/// for the whole song. Without the drums there is no hit, over nothing at that, so the mix loses these
/// 20 dB. A tail of -80 LUFS that is left of the drums is no hit either.
#[test]
fn muting_the_only_part_that_plays_leaves_no_hit() {
    let drums = part(PartRole::Drums, 500, |ms| if ms % 500 < 20 { 1.0 } else { 0.01 });
    let arrangement = Arrangement::new(&[drums, part(PartRole::Other, 20_000, |_| 0.0)]);
    for share in [0.0, 1e-8] {
        let got = arrangement.if_gained_db(0, share).expect("39 hits");
        assert!((got + 20.0).abs() < 1e-3, "{share}: {got}");
    }
    assert_eq!(arrangement.if_gained_db(1, 0.0), Some(0.0));
}

/// Other places take the hits' place where there are enough of them; contrast is then measured there.
#[test]
fn costs_are_counted_at_the_places_that_are_given() {
    let drums = part(PartRole::Drums, 500, |ms| match ms % 1_000 {
        0..20 => 1.0,
        500..520 => 0.5,
        _ => 0.01,
    });
    let mut arrangement = Arrangement::new(&[drums]);
    let own = (arrangement.places().clone(), arrangement.contrast_db().to_vec());
    let places = |count: usize| Places {
        strokes: (1..40).map(|n| n * 500).collect(),
        counted: (0..count).map(|n| 2 * n + 1).collect(),
    };
    assert!(!arrangement.count_at(places(l::LEAST_MAIN_HITS - 1)));
    assert_eq!((arrangement.places().clone(), arrangement.contrast_db().to_vec()), own);
    assert!(arrangement.count_at(places(l::LEAST_MAIN_HITS)));
    assert_eq!(*arrangement.places(), places(l::LEAST_MAIN_HITS));
    assert_eq!(arrangement.contrast_db().len(), l::LEAST_MAIN_HITS);
    assert!(arrangement.contrast_db().iter().all(|db| (db - 20.0).abs() < 1e-3));
    assert_eq!(arrangement.counted_s()[..2], [1.0, 2.0]);
}

/// Drums every 500 ms at 48 kHz. Of three hits of the mix one is a stroke, one lies 30 ms from one, one
/// 31 ms; of the strokes all others are added, at their place.
#[test]
fn strokes_that_no_hit_was_found_at_are_places_too() {
    let power = |ms: usize| if ms % 500 < 20 { 1.0 } else { 0.01 };
    let hits = [48 * 500, 48 * 1_030, 48 * 1_531];
    let arrangement = Arrangement::new(&[part(PartRole::Drums, 500, power)]);
    let strokes = Strokes::new(&hits, &arrangement, 48_000.0);
    assert!(strokes.frames.is_sorted());
    // The stroke at 1.5 s is 31 ms from the hit, so both are there.
    assert_eq!(strokes.frames[..5], [24_000, 49_440, 72_000, 73_488, 96_000]);
    assert_eq!(strokes.found[..5], [Some(0), Some(1), None, Some(2), None]);
    assert_eq!(strokes.frames.len(), 40);
    let counted: Vec<usize> = (0..40).filter(|&n| n != 3).collect();
    assert_eq!(strokes.counted, counted);
    let bare = Arrangement::new(&[part(PartRole::Bass, 500, power)]);
    let strokes = Strokes::new(&hits, &bare, 48_000.0);
    assert_eq!((&strokes.frames[..], &strokes.counted[..]), (&hits[..], &[0, 1, 2][..]));
}

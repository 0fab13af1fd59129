use super::*;
use crate::parts::{PartCell, PartOnset};

/// Notes each 250 ms, as many ms late as `late` says, each after a faint touch of the string
/// where `touched`.
fn part(role: PartRole, late: impl Fn(usize) -> usize, touched: bool) -> PartTrack {
    let mut track = PartTrack {
        role,
        sample_rate_hz: 48_000.0,
        cell_frames: 48,
        cells: vec![PartCell::default(); 16_000],
        ..PartTrack::default()
    };
    for note in 0..60 {
        let at = 200 + 250 * note + late(note);
        for (n, cell) in track.cells[at..at + 200].iter_mut().enumerate() {
            cell.weighted = 0.1 * 10f32.powf(-(n as f32) / 100.0);
        }
        let onset = |cell: usize, level_lufs| {
            let frame = 48 * cell as u64;
            PartOnset { frame, time_s: frame as f64 / 48e3, strength: 1.0, level_lufs }
        };
        if touched && note % 3 > 0 {
            track.onsets.push(onset(at - 40, -45.0));
        }
        track.onsets.push(onset(at, -12.0));
    }
    track
}

/// A finger on the string ahead of the notes changes nothing, be it the reference's or another's.
#[test]
fn faint_onsets_change_no_reading() {
    let read_with = |touched: [bool; 3]| {
        let late = |note: usize| 10 + note * 7 % 5;
        let tracks = [
            part(PartRole::Guitars, |_| 0, touched[0]),
            part(PartRole::Guitars, late, touched[1]),
            part(PartRole::Bass, |note| note * 5 % 3, touched[2]),
        ];
        read(&tracks, &Thresholds::default(), None)
    };
    let plain = read_with([false; 3]);
    assert_eq!(plain.doubles.len(), 1);
    assert!(plain.parts[1].as_ref().is_some_and(|part| (part.offset_ms - 11.5).abs() < 1.0));
    for touched in [[true, false, false], [false, true, true], [true; 3]] {
        assert_eq!(read_with(touched), plain, "{touched:?}");
    }
}

/// Soft strokes of the drums between the main ones, which stand out of the parts' sum, are no hits of a
/// mix that was not found to have them: what the hits lose is what it would be if nobody knew of them.
#[test]
fn costs_are_counted_at_the_hits_of_the_mix() {
    let empty = |role| PartTrack { onsets: Vec::new(), ..part(role, |_| 0, false) };
    let strike = |track: &mut PartTrack, at: usize, power: f32, known: bool| {
        for (n, cell) in track.cells[at..at + 200].iter_mut().enumerate() {
            cell.weighted += power * 10f32.powf(-(n as f32) / 50.0);
        }
        let frame = 48 * at as u64;
        let level_lufs = 10.0 * power.log10();
        let onset = PartOnset { frame, time_s: frame as f64 / 48e3, strength: 1.0, level_lufs };
        track.onsets.extend(known.then_some(onset));
    };
    let tracks = |known: bool| {
        let (mut drums, mut bass) = (empty(PartRole::Drums), empty(PartRole::Bass));
        drums.cells.fill(PartCell::default());
        bass.cells.fill(PartCell::default());
        for note in 0..30 {
            let at = 200 + 500 * note;
            strike(&mut drums, at, 0.1, true);
            strike(&mut drums, at + 250, 0.005, known);
            strike(&mut bass, at + 20 + note % 2, 0.1, true);
        }
        vec![drums, bass]
    };
    let strokes = (0..30).map(|note| 200 + 500 * note).collect();
    let hits = Places { strokes, counted: (0..30).collect() };
    let cost = |known, places: Option<&Places>| {
        let reading = read(&tracks(known), &Thresholds::default(), places);
        reading.leak.cost.map_or(f64::NAN, |cost| cost.db)
    };
    let alone = cost(false, None);
    let (own, at_hits) = (cost(true, None), cost(true, Some(&hits)));
    assert!((at_hits - alone).abs() < 1e-9, "{at_hits} dB, {alone} where none is known");
    assert!((own - alone).abs() > 0.1, "{own} dB, {alone} where none is known");
}

#[test]
fn the_state_goes_by_hits_shared_attacks_and_what_is_heard() {
    let cost = |db| Some(Cost { db, low_db: db, high_db: db });
    let limits = Thresholds::default();
    for (contrast_db, shared_db, audible, state) in [
        (0.7, 0.9, 0.05, State::Clear),
        (0.7, 1.5, 0.0, State::Watch),
        (0.7, 2.5, 0.0, State::Leaking),
        (1.5, 0.0, 0.0, State::Watch),
        (2.5, 0.0, 0.0, State::Leaking),
        (0.1, 0.1, 0.12, State::Watch),
    ] {
        let mut reading = TimingReading::default();
        reading.leak.cost = cost(contrast_db);
        reading.leak.attack = cost(shared_db);
        reading.parts =
            vec![None, Some(Deviation { audible_share: audible, ..Deviation::default() })];
        reading.judge(&limits);
        assert_eq!(reading.leak.state, state, "{contrast_db}, {shared_db} dB, {audible}");
    }
}

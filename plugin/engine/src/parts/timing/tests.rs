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

/// The notes of a part that are `of` it; the others are not played.
fn only(mut track: PartTrack, of: impl Fn(usize) -> bool) -> PartTrack {
    for note in (0..60).filter(|note| !of(*note)) {
        track.cells[200 + 250 * note..450 + 250 * note].fill(PartCell::default());
    }
    let note = |onset: &PartOnset| (onset.frame / 48 - 200) as usize / 250;
    track.onsets.retain(|onset| of(note(onset)));
    track
}

/// Kick and snare in turns, as one part and as two: what is read of a guitar is the same to the bit, and so
/// is what it costs. The two share no stroke, so nothing is known of one against the other.
#[test]
fn drums_in_two_parts_are_the_drums() {
    let kit = || part(PartRole::Drums, |_| 0, false);
    let guitar = part(PartRole::Guitars, |note| 6 * (note * 7 % 5) + 20 * (note % 3 / 2), false);
    let read = |tracks: &[PartTrack]| read(tracks, &Thresholds::default(), None);
    let one = read(&[kit(), guitar.clone()]);
    let kick = only(kit(), |note| note.is_multiple_of(2));
    let snare = only(kit(), |note| note % 2 == 1);
    let two = read(&[kick, snare, guitar.clone()]);
    assert_eq!((one.leak.state, &one.joined[..]), (State::Leaking, &[][..]));
    assert_eq!(two.parts, [None, None, one.parts[1].clone()]);
    assert_eq!(two.strays[2], one.strays[1]);
    assert_eq!((&two.leak, &two.gains), (&one.leak, &one.gains));
    assert_eq!((&two.struck, two.struck.hits), (&one.struck, 60));
    // Of equals the later one is the reference.
    assert_eq!((two.reference, &two.joined[..]), (Some(1), &[0][..]));
    // A second snare on the first, 8 ms late, is read against it and adds nothing to the beat.
    let layer = only(part(PartRole::Drums, |_| 8, false), |note| note % 2 == 1);
    let three = read(&[kit(), layer, guitar.clone()]);
    assert_eq!((three.reference, &three.joined[..]), (Some(0), &[][..]));
    assert_eq!(three.parts[2], one.parts[1]);
    let layer = three.parts[1].as_ref().expect("30 strokes");
    assert_eq!((layer.shared, layer.offset_ms.round()), (30, 8.0));
    // Neither do drums that are late as a whole: latency, and no beat.
    let late = part(PartRole::Drums, |_| 55, false);
    let with_late = read(&[kit(), only(late, |note| note < 40), guitar.clone()]);
    assert_eq!((&with_late.joined[..], &with_late.parts[2]), (&[][..], &one.parts[1]));
    // Eight strokes of each are too few alone, and enough together.
    let few = |rest: usize| only(kit(), move |note| note % 2 == rest && note < 16);
    let both = read(&[few(0), few(1), guitar]);
    assert_eq!(both.parts[2].as_ref().map(|part| (part.shared, part.played)), Some((16, 19)));
}

/// Drums that play in the first half alone: what the guitar plays in their rest says nothing of whether it
/// plays with them, and loose notes are heard to be loose. A guitar that plays thrice as many notes as they
/// do has a rhythm of its own.
#[test]
fn a_rest_of_the_drums_says_nothing_of_a_part() {
    let late = |note: usize| if note.is_multiple_of(3) { 40 } else { 2 };
    let guitar = part(PartRole::Guitars, late, false);
    for beats in [60, 24] {
        let drums = only(part(PartRole::Drums, |_| 0, false), |note| note < beats);
        let reading = read(&[drums, guitar.clone()], &Thresholds::default(), None);
        let told = reading.parts[1].as_ref().expect("shared");
        // Three more lie within a second of the last beat; the fourth is late.
        assert_eq!((told.shared, told.played), (beats, (beats + 3).min(60)));
        assert!(reading.most_audible().is_some_and(|(part, share)| part == 1 && share > 0.3));
    }
    let sparse = only(part(PartRole::Drums, |_| 0, false), |note| note.is_multiple_of(3));
    let reading = read(&[sparse, guitar], &Thresholds::default(), None);
    assert_eq!(reading.parts[1].as_ref().map(|part| (part.shared, part.played)), Some((20, 60)));
    assert_eq!(reading.most_audible(), None);
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

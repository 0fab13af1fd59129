//! Hits of powers that were put in by hand: what is known of each follows from its definition.

use super::*;
use crate::cells::Cell;
use crate::thresholds::ABSOLUTE_GATE_LUFS;

const RATE_HZ: f64 = 48_000.0;
/// Frames in a cell, and so 12 in a quarter millisecond.
const CELL_FRAMES: usize = 48;
/// Power between the strokes.
const BED: f32 = 1e-4;
/// Share of a quarter millisecond's power that each band has.
const SHARES: [f32; BANDS] = [1.0, 0.5, 0.25];
/// Length of a stroke, quarter milliseconds.
const LONG: usize = 30 * MICRO;

/// Powers of `cells` milliseconds, a quarter at a time, with strokes of 30 ms: place and power.
fn powers(cells: usize, strokes: &[(usize, f32)]) -> Vec<f32> {
    let mut powers = vec![BED; cells * MICRO];
    for &(from, power) in strokes {
        let to = (from + LONG).min(powers.len());
        powers[from..to].fill(power);
    }
    powers
}

/// What a small speaker leaves of a power: a quarter of what is over the bed.
fn small(power: f32) -> f32 {
    BED + 0.25 * (power - BED)
}

fn cell(quarters: &[f32]) -> Cell {
    let weighted = quarters.iter().sum::<f32>() / MICRO as f32;
    let mut micro = [[0.0; BANDS]; MICRO];
    for (bands, power) in micro.iter_mut().zip(quarters) {
        *bands = SHARES.map(|share| share * power);
    }
    let peak = quarters.iter().fold(0.0f32, |most, power| most.max(*power)).sqrt();
    Cell { weighted, small: small(weighted), peak, micro, ..Cell::default() }
}

/// A meter, its cells, and the hits that it gave, each with the number of cells at which it did.
struct Played {
    hits: HitMeter,
    cells: Cells,
    given: Vec<(u64, MeasuredHit)>,
    /// Numbers of cells at which an onset was placed.
    placed: Vec<u64>,
}

fn play(powers: &[f32], may: bool) -> Played {
    let mut played = Played {
        hits: HitMeter::new(RATE_HZ, CELL_FRAMES),
        cells: Cells::new(),
        given: Vec::new(),
        placed: Vec::new(),
    };
    played.on(powers, may);
    played
}

impl Played {
    fn on(&mut self, powers: &[f32], may: bool) {
        powers.chunks(MICRO).for_each(|quarters| self.push(cell(quarters), may));
    }

    fn push(&mut self, cell: Cell, may: bool) {
        self.cells.push(cell);
        if self.hits.cell(&self.cells, may) {
            self.placed.push(self.cells.count());
        }
        while self.hits.has_work(&self.cells) {
            let hit = self.hits.work(&self.cells);
            self.given.extend(hit.map(|hit| (self.cells.count(), hit)));
        }
    }

    fn end(&mut self) {
        while self.hits.waiting() > 0 {
            let hit = self.hits.finish_next(&self.cells);
            self.given.extend(hit.map(|hit| (self.cells.count(), hit)));
        }
    }
}

fn near(what: &str, got: f64, want: f64) {
    assert!((got - want).abs() < 1e-4, "{what}: {got}, expected {want}");
}

/// Closed form: a stroke of a hundred times the bed's power stands out by 20 dB, is as loud as its power says
/// (BS.1770-5: 10 lg of it less 0.691), and begins in its quarter millisecond. A millisecond that holds a quarter
/// of it is 6 dB under the strongest, one that holds half is 3 dB under it.
#[test]
fn a_stroke_is_what_was_put_in() {
    for (quarter, attack_ms) in [(0, 1.0), (1, 0.75), (2, 0.5), (3, 1.25)] {
        let at = 600 * MICRO + quarter;
        let played = play(&powers(1_200, &[(at, 1e-2)]), true);
        let [(known, measured)] = played.given[..] else { panic!("{:?}", played.given) };
        assert_eq!((measured.micro, measured.cell), (at as u64, 600));
        assert_eq!((measured.next, measured.peak_end), (u64::MAX, 650));
        assert_eq!(measured.loudest, if quarter == 0 { 600 } else { 601 });
        assert_eq!(measured.free, [true; FRAMES - 1]);
        // 250 ms of surroundings; what an onset in them needs to be certain, 16 and 25, and to be placed, 15.
        assert_eq!(known, 600 + 250 + 16 + 25 + 15);

        let hit = measured.hit;
        assert_eq!((hit.index, hit.frame), (0, 12 * at as u64 + 6));
        near("time", hit.time_s, (12 * at + 6) as f64 / RATE_HZ);
        near("level", hit.level_lufs, -20.0 - 0.691);
        near("bed", hit.bed_lufs, -40.0 - 0.691);
        near("contrast", hit.contrast_db, 20.0);
        near("small speaker", hit.small_contrast_db, 10.0 * (0.25f64 * 99.0 + 1.0).log10());
        near("peak", hit.true_peak_dbtp, -20.0);
        near("attack", hit.attack_ms, attack_ms);
        for (db, share) in hit.band_dbfs.iter().zip(SHARES) {
            near("band", *db, -20.0 + 10.0 * f64::from(share).log10());
        }
    }
}

/// A stroke of ten times the amplitude 300 ms later is no part of an attack: it ends within the first millisecond.
#[test]
fn an_attack_is_over_within_its_hit() {
    let played = play(&powers(950, &[(600 * MICRO, 1e-2), (900 * MICRO, 1.0)]), true);
    let [(_, measured)] = played.given[..] else { panic!("{:?}", played.given) };
    near("attack", measured.hit.attack_ms, 1.0);
}

/// What counts as a hit: 1 dB over its surroundings, over the absolute gate of BS.1770-5. Weaker onsets leave
/// nothing, and no gap in the numbers of hits.
#[test]
fn weak_onsets_are_no_hits() {
    // A stroke whose bands rise by 20 dB and whose weighted power by 0.9 dB, or by 1.1.
    for (rise_db, cells) in [(0.9, vec![600, 1_800]), (1.1, vec![600, 1_200, 1_800])] {
        let strokes = [(600 * MICRO, 1e-2), (1_200 * MICRO, 1e-2), (1_800 * MICRO, 1e-2)];
        let mut played = play(&[], true);
        for quarters in powers(2_400, &strokes).chunks(MICRO) {
            let mut cell = cell(quarters);
            if (1_200..1_230).contains(&played.cells.count()) {
                cell.weighted = BED * 10f32.powf(rise_db / 10.0);
            }
            played.push(cell, true);
        }
        assert!(played.placed.len() >= 3 && played.hits.waiting() == 0);
        assert_eq!(played.given.iter().map(|(_, m)| m.cell).collect::<Vec<_>>(), cells);
        assert!(played.given.iter().map(|(_, m)| m.hit.index).eq(0..cells.len() as u64));
    }

    let gate = 10f64.powf((ABSOLUTE_GATE_LUFS + 0.691) / 10.0);
    for (over, hits) in [(1.01, 1), (0.99, 0)] {
        let scale = (over * gate / 1e-2) as f32;
        let quiet: Vec<f32> =
            powers(1_200, &[(600 * MICRO, 1e-2)]).iter().map(|power| scale * power).collect();
        assert_eq!(play(&quiet, true).given.len(), hits, "{over} of the gate");
    }
}

/// A louder stroke 40 ms on ends the first one's peak, and neither is the other's bed.
#[test]
fn a_stroke_ends_where_the_next_begins() {
    let powers = powers(1_500, &[(600 * MICRO, 1e-2), (640 * MICRO, 1e-1)]);
    let played = play(&powers, true);
    let [(_, first), (_, second)] = played.given[..] else { panic!("{:?}", played.given) };
    assert_eq!((first.next, first.peak_end, second.next), (640, 640, u64::MAX));
    assert_eq!((first.hit.index, second.hit.index, second.number), (0, 1, first.number + 1));
    near("first peak", first.hit.true_peak_dbtp, -20.0);
    near("second peak", second.hit.true_peak_dbtp, -10.0);
    near("first", first.hit.contrast_db, 20.0);
    near("second", second.hit.contrast_db, 30.0);
}

/// A frame of the spectrum of the surroundings is free where no other hit's span, from 2 ms ahead of it to 50 ms
/// behind its onset, meets it (docs/readings.md).
#[test]
fn frames_are_free_of_other_hits() {
    let cells = |s: f64| (s * 1e3).round() as i64;
    let long = cells(frame_s(RATE_HZ));
    let mut seen = [0, 0];
    for apart in [-390i64, -300, -200, -140, -100, -60, -45, 45, 52, 60, 100, 150, 200, 240] {
        let other = 700 + apart;
        let strokes = [(700 * MICRO, 1e-2), (other as usize * MICRO, 1e-2)];
        let played = play(&powers(1_300, &strokes), true);
        let (_, hit) = played.given.iter().find(|(_, m)| m.cell == 700).expect("a hit");
        for (frame, free) in hit.free.iter().enumerate() {
            let from = 700 + cells(starts_s(RATE_HZ)[frame + 1]);
            let meets = (from..from + long).any(|cell| (other - 2..other + 50).contains(&cell));
            assert_eq!(*free, !meets, "frame {frame} from {from}, other at {other}");
            seen[usize::from(*free)] += 1;
        }
    }
    assert!(seen[0] >= 10 && seen[1] >= 10, "{seen:?}");
}

/// Where the work has to wait for its turn, it waits four cells and is the same.
#[test]
fn an_onset_that_has_to_wait_is_the_same() {
    let powers = powers(1_500, &[(600 * MICRO + 1, 1e-2), (900 * MICRO + 3, 1e-2)]);
    let (free, late) = (play(&powers, true), play(&powers, false));
    let hits = |played: &Played| played.given.iter().map(|(_, m)| m.hit).collect::<Vec<_>>();
    assert_eq!(hits(&free), hits(&late));
    assert_eq!(free.placed.len(), late.placed.len());
    assert!(free.placed.len() >= 2);
    for (free, late) in free.placed.iter().zip(&late.placed) {
        assert_eq!(*late, free + MOST_WAITED);
    }
}

/// At the end of a programme every onset is measured with what is there; after a reset all is as at first.
#[test]
fn the_end_measures_what_waits() {
    let strokes = [(600 * MICRO, 1e-2), (900 * MICRO, 1e-2)];
    let whole = powers(960, &strokes);
    let mut played = play(&whole, true);
    assert_eq!((played.given.len(), played.hits.waiting()), (1, 1));
    played.end();
    assert_eq!(played.given.len(), 2);
    let last = played.given[1].1;
    assert_eq!((last.hit.index, last.cell), (1, 900));
    near("contrast", last.hit.contrast_db, 20.0);

    // Cut where it is certain and waits to be placed.
    let certain = (600 + DELAY_CELLS as usize) * MICRO;
    let mut cut = play(&whole[..certain], false);
    assert!(cut.hits.waiting() > 0);
    cut.end();
    assert_eq!(cut.given.last().map(|(_, m)| m.cell), Some(600));
    assert_eq!(cut.hits.waiting(), 0);
    // Nothing is begun where nothing waits.
    assert!(cut.hits.finish_next(&cut.cells).is_none());
    assert_eq!((cut.hits.waiting(), cut.hits.done), (0, cut.hits.found));

    let first: Vec<_> = played.given.iter().map(|(_, m)| m.hit).collect();
    // A hit that is begun waits, and the end goes on with it.
    let ready = (600 + READY_CELLS as usize) * MICRO;
    let mut begun = play(&whole[..ready - MICRO], true);
    assert!(begun.given.is_empty() && !begun.hits.has_work(&begun.cells));
    begun.cells.push(cell(&whole[ready - MICRO..ready]));
    begun.hits.cell(&begun.cells, true);
    assert!(begun.hits.work(&begun.cells).is_none());
    assert_eq!(begun.hits.waiting(), 1);
    begun.end();
    assert_eq!(begun.given.iter().map(|(_, m)| m.hit).collect::<Vec<_>>(), first[..1]);

    played.hits.reset();
    played.cells.reset();
    played.given.clear();
    assert_eq!(played.hits.waiting(), 0);
    played.on(&whole, true);
    played.end();
    assert_eq!(played.given.iter().map(|(_, m)| m.hit).collect::<Vec<_>>(), first);
}

/// Two onsets that are placed less than 12 ms apart, half of the least spacing, are one: the first stands.
#[test]
fn two_onsets_on_one_moment_are_one() {
    for (apart, one) in [(0, true), (11, true), (12, false), (25, false)] {
        let mut played = play(&powers(650, &[(600 * MICRO, 1e-2)]), true);
        let found = played.hits.found;
        let last = &mut played.hits.onsets[(found - 1) as usize % ONSETS];
        assert_eq!(last.cell(), 600);
        last.micro -= apart * MICRO as u64;
        played.hits.place(&played.cells, 600);
        assert_eq!(played.hits.found == found, one, "{apart} ms apart");
    }
}

/// The same surroundings in another stream of a quarter of the power; of onsets that are forgotten, none.
#[test]
fn surroundings_are_read_in_another_stream() {
    let count = ONSETS + 4;
    let strokes: Vec<_> = (0..count).map(|n| ((600 + 60 * n) * MICRO, 1e-2)).collect();
    let all = powers(600 + 60 * count + 20, &strokes);
    let played = play(&all, true);
    let mut other = Cells::new();
    all.chunks(MICRO).for_each(|quarters| {
        let Cell { weighted, .. } = cell(quarters);
        other.push(Cell { weighted: 0.25 * weighted, ..Cell::default() });
    });
    let newest = played.hits.found - 1;
    let own = played.hits.bed_in(&played.cells, newest);
    assert!(own > 0.0 && (played.hits.bed_in(&other, newest) / own - 0.25).abs() < 1e-6);
    let oldest = played.hits.found - ONSETS as u64;
    assert_eq!(played.hits.bed_in(&other, oldest - 1), 0.0);
    // Each lies where it was put, also those that took the place of one that is forgotten.
    let lie: Vec<_> = played.given.iter().map(|(_, measured)| measured.micro as usize).collect();
    let put: Vec<_> = strokes.iter().map(|&(at, _)| at).take(lie.len()).collect();
    assert!(lie.len() > ONSETS - 8);
    assert_eq!(lie, put);
}

/// By hand: noise 40 dB under a stroke in silence is no part of it, one 27 dB under it is; nor is what lies over
/// 15 ms ahead, or what the next onset ends.
#[test]
fn noise_ahead_of_a_stroke_is_left_out() {
    let late = |noise: f32, silent: usize, ahead: usize| {
        let mut cells = Cells::new();
        let mut powers = vec![0.0; 300 * MICRO];
        powers[100 * MICRO + silent..].fill(noise);
        powers[100 * MICRO + ahead..].fill(1.0);
        powers.chunks(MICRO).for_each(|quarters| cells.push(cell(quarters)));
        cells
    };
    let of = |noise: f32, ahead: usize| late(noise, 0, ahead);
    let micro = 100 * MICRO as u64;
    assert_eq!(first_touch(&of(1e-4, 21), micro, u64::MAX), micro + 21);
    assert_eq!(first_touch(&of(1e-4, 21), micro, 106), micro + 21);
    assert_eq!(first_touch(&of(1e-4, 21), micro, 105), micro);
    assert_eq!(first_touch(&of(2e-3, 21), micro, u64::MAX), micro);
    assert_eq!(first_touch(&of(1e-4, 59), micro, u64::MAX), micro + 59);
    assert_eq!(first_touch(&of(1e-4, 60), micro, u64::MAX), micro);
    // What is louder behind the hit's 50 ms has no part in it: the noise is then the hit.
    assert_eq!(first_touch(&of(1e-4, 50 * MICRO), micro, u64::MAX), micro);
    assert_eq!(first_touch(&late(1e-4, 8, 50 * MICRO), micro, u64::MAX), micro + 8);
}

/// By hand: the mean of ten cells, or of those that are there.
#[test]
fn levels_of_bands_are_means_of_ten_cells() {
    let mut cells = Cells::new();
    (0..30).for_each(|n| cells.push(cell(&[if (10..15).contains(&n) { 2.0 } else { 1.0 }; MICRO])));
    for (from, want) in [(0, 1.0), (10, 1.5), (7, 1.5), (5, 1.5), (3, 1.3), (25, 1.0)] {
        for (db, share) in band_levels(&cells, from).iter().zip(SHARES) {
            near("band", *db, 10.0 * f64::from(want * share).log10());
        }
    }
    assert!(band_levels(&cells, 30).iter().all(|db| (*db + 200.0).abs() < 1e-9));
}

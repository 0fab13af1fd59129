//! Weak mids and their shapes, over the songs of the corpus.

use crate::rendered::{all, meter};
use brunt_engine::{Mids, Readings, Shape, State};
use brunt_lab::corpus::audio::db;
use brunt_lab::corpus::ceiling::quantile;
use brunt_lab::corpus::process::equal::{band, dip, shelves, tilt};
use brunt_lab::corpus::{Stereo, truth};
use rayon::prelude::*;

/// What one song reads, unchanged and changed.
struct Song {
    name: &'static str,
    flat: Readings,
    dips: [Readings; 2],
    shelves: [Readings; 3],
    tilts: [Readings; 2],
}

/// Sizes of the shelves, dB; the dips have the last two.
const SIZES_DB: [f64; 3] = [3.0, 6.0, 9.0];

/// Every song through every change: one measurement of all for the tests of this file.
fn songs() -> &'static [Song] {
    static SONGS: std::sync::OnceLock<Vec<Song>> = std::sync::OnceLock::new();
    SONGS.get_or_init(|| {
        let read = |mix: &Stereo| meter(mix).readings;
        all()
            .par_iter()
            .map(|song| Song {
                name: song.name,
                flat: read(&song.mix),
                dips: [6.0, 9.0].map(|size| read(&dip(&song.mix, size))),
                shelves: SIZES_DB.map(|size| read(&shelves(&song.mix, size))),
                tilts: [-1.0, 1.0].map(|size| read(&tilt(&song.mix, size))),
            })
            .collect()
    })
}

fn deficit(readings: &Readings) -> f64 {
    readings.balance.mid_deficit_db.expect("48 kHz, 16 s")
}

/// Share of the songs for which `holds`.
fn share(what: &str, holds: impl Fn(&Song) -> bool) -> f64 {
    let missed: Vec<_> = songs().iter().filter(|song| !holds(song)).map(|s| s.name).collect();
    let share = 1.0 - missed.len() as f64 / songs().len() as f64;
    println!("{what}: {:.0} %, not {missed:?}", 100.0 * share);
    share
}

/// The mid deficit follows a wide dip by 0.7 to 1.2 dB a decibel, grows with shelves of 3, 6 and 9
/// dB, and moves by less than 0.3 dB under a tilt of 1 dB an octave; one song in twenty may move by
/// up to 0.4 dB, where a band is so empty that its floor counts. Limits are ours.
#[test]
fn the_mid_deficit_moves_with_the_mids_and_not_with_a_tilt() {
    let mut moved = Vec::new();
    for song in songs() {
        let flat = deficit(&song.flat);
        let dips = [6.0, 9.0].map(|size| {
            let at = usize::from(size > 6.0);
            (deficit(&song.dips[at]) - flat) / size
        });
        let shelves = song.shelves.map(|readings| deficit(&readings) - flat);
        let tilts = song.tilts.map(|readings| deficit(&readings) - flat);
        println!("{:<16} {flat:+.2}, {dips:.2?} a dB, {shelves:.2?}, {tilts:.2?}", song.name);
        assert!(dips.iter().all(|r| (0.7..=1.2).contains(r)), "{}: {dips:.2?}", song.name);
        assert!(
            0.0 < shelves[0] && shelves[0] < shelves[1] && shelves[1] < shelves[2],
            "{}: {shelves:.2?}",
            song.name
        );
        assert!(tilts.iter().all(|d| d.abs() < 0.4), "{}: {tilts:.2?}", song.name);
        if tilts.iter().any(|d| d.abs() >= 0.3) {
            moved.push(song.name);
        }
    }
    assert!(moved.len() * 20 <= songs().len(), "a tilt moves {moved:?}");
}

/// The mids are clear on mixes that nothing processed, and leak with a dip, or shelves, of 9 dB; the
/// shape is told. These songs are among those that set the limits, so this keeps what was reached and is no
/// proof: over 200 unseen songs 97 %, 97 % and 89 % were reached, the bar was 95 % (docs/accuracy.md).
#[test]
fn mids_leak_where_they_were_taken_and_the_shape_is_told() {
    let leaking = |mids: &Mids, shape| mids.state == State::Leaking && mids.shape == Some(shape);
    let clear = share("clear unchanged", |s| s.flat.leaks.mids.state == State::Clear);
    let dips = share("leaking with a dip", |s| s.dips[1].leaks.mids.state == State::Leaking);
    let shelf = share("leaking with shelves", |s| s.shelves[2].leaks.mids.state == State::Leaking);
    let scooped = share("told scooped", |s| leaking(&s.dips[1].leaks.mids, Shape::Scooped));
    let boosted =
        share("told boosted", |s| leaking(&s.shelves[2].leaks.mids, Shape::BoostedExtremes));
    let even = share("no shape unchanged", |s| s.flat.leaks.mids.shape == Some(Shape::Even));
    let dark = share("told dark", |s| s.tilts[0].leaks.mids.shape == Some(Shape::Dark));
    let bright = share("told bright", |s| s.tilts[1].leaks.mids.shape == Some(Shape::Bright));
    assert!(clear >= 0.95 && dips >= 0.95 && shelf >= 0.95, "{clear} {dips} {shelf}");
    assert!(scooped >= 0.95 && boosted >= 0.9, "{scooped} {boosted}");
    assert!(even >= 0.95 && dark >= 0.95 && bright >= 0.85, "{even} {dark} {bright}");
}

/// The cost against what was really lost: the level of the hits from 200 Hz to 4 kHz with the mix
/// at one loudness, unchanged less changed. Nine songs in ten lie inside the range that the cost
/// gives, less what the unchanged mix costs by itself.
#[test]
fn the_cost_covers_what_the_hits_lost() {
    let mut inside = Vec::new();
    for (song, rendered) in songs().iter().zip(all()).step_by(2) {
        let flat = level(&rendered.mix);
        for (name, mix, readings) in [
            ("dip", dip(&rendered.mix, 9.0), &song.dips[1]),
            ("shelves", shelves(&rendered.mix, 9.0), &song.shelves[2]),
        ] {
            let lost = flat - level(&mix);
            let cost = readings.leaks.mids.cost.expect("known");
            println!("{:<16} {name:<8} lost {lost:.2}, cost {cost:.2?}", song.name);
            inside.push(f64::from(u8::from((cost.low_db..=cost.high_db).contains(&lost))));
        }
    }
    let share = inside.iter().sum::<f64>() / inside.len() as f64;
    println!("{:.0} % inside", 100.0 * share);
    assert!(share >= 0.9, "{share:.2} inside the range");
}

/// Median level of the hits from 200 Hz to 4 kHz, LUFS, with the mix brought to -14 LUFS.
fn level(mix: &Stereo) -> f64 {
    let loudness = truth::loudness(mix).expect("programme");
    let mut small = band(mix, 200.0, 4_000.0);
    small.gain(db(-14.0 - loudness));
    quantile(meter(&small).hits.iter().map(|hit| hit.level_lufs).collect(), 0.5)
}

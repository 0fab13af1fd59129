//! Songs drawn at random from the material of the written ones: other kits, tempos, levels,
//! feels and orders of sections. They are for fitting; the written songs are for testing.

use super::drums::Drum;
use super::kits;
use super::patterns;
use super::song::{Levels, Section, Song};
use super::synth;
use rand::{Rng, SeedableRng, seq::IndexedRandom};
use rand_pcg::Pcg64Mcg;

/// Share of the wide songs that are played on a drawn kit: no recording is in them.
const SYNTHETIC: f64 = 0.4;
/// Share of the wide songs whose sections are drawn step by step.
const FREE: f64 = 0.5;

/// A song of about `seconds` from the sections of `from`, played on one of `kits` (on the kit of one
/// of `from` where none has every piece); the same seed gives the same song.
///
/// The song's data is leaked: a fit makes a few hundred of them and ends.
///
/// # Panics
/// Where `from` is empty.
#[must_use]
pub fn draw(from: &[Song], kits: &[&'static str], seconds: f64, seed: u64) -> Song {
    song(from, kits, seconds, seed, false)
}

/// As [`draw`], and wider: some songs are drawn step by step ([`patterns`]), half of the others keep
/// to one song's own sections, and some are played on drawn kits ([`synth`]). For fits.
///
/// # Panics
/// Where `from` is empty.
#[must_use]
pub fn draw_wide(from: &[Song], kits: &[&'static str], seconds: f64, seed: u64) -> Song {
    song(from, kits, seconds, seed, true)
}

fn song(from: &[Song], kits: &[&'static str], seconds: f64, seed: u64, wide: bool) -> Song {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let base = *from.choose(&mut rng).expect("some songs");
    let tempo = base.tempo * rng.random_range(0.85..1.15);
    // One song's own sections, as they were written: hits are as alike as in a song.
    let own = wide && rng.random_bool(0.5);
    let free = wide && rng.random_bool(FREE);
    let bars = (seconds * tempo / 60.0 / base.beats as f64).ceil() as usize;
    // Rows fit together where the grid is the same.
    let alike: Vec<Song> = from
        .iter()
        .copied()
        .filter(|song| song.steps == base.steps && song.beats == base.beats)
        .filter(|song| !own || song.name == base.name)
        .collect();
    let mut sections = Vec::new();
    let mut filled = 0;
    let drawn: Vec<Section> = if free {
        let count = rng.random_range(1..=3);
        (0..count).map(|_| patterns::section(&mut rng, base.steps, base.beats)).collect()
    } else {
        Vec::new()
    };
    while filled < bars {
        if let Some(section) = drawn.choose(&mut rng) {
            filled += section.chords.len();
            sections.push(*section);
            continue;
        }
        let donor = alike.choose(&mut rng).expect("the base is one of them");
        let Some(section) = donor.sections.choose(&mut rng) else { continue };
        let section = if own { *section } else { thinned(*section, &mut rng) };
        let section = Section { repeats: 1, ..section };
        filled += section.chords.len().max(1);
        sections.push(section);
    }
    let kit = if wide && rng.random_bool(SYNTHETIC) {
        synth::name(seed)
    } else {
        kit_for(&sections, kits, &mut rng).unwrap_or(base.kit)
    };
    let programmed = rng.random_bool(0.25);
    let mut level = |lufs: f64, spread: f64| lufs + rng.random_range(-spread..spread);
    let levels = Levels {
        drums: level(base.levels.drums, 2.5),
        bass: level(base.levels.bass, 3.0),
        guitars: level(base.levels.guitars, 4.0),
        clean: level(base.levels.clean, 4.0),
        pad: level(base.levels.pad, 4.0),
        organ: level(base.levels.organ, 4.0),
    };
    Song {
        name: Box::leak(format!("drawn-{seed}").into_boxed_str()),
        tempo,
        kit,
        bass: rng.random_range(32..40),
        drive_db: rng.random_range(18.0..38.0),
        dynamics: if programmed { 0.0 } else { rng.random_range(0.02..0.14) },
        loose_ms: if programmed { 0.0 } else { rng.random_range(0.5..6.0) },
        limbs_ms: if programmed { 0.0 } else { 0.7 },
        levels,
        seed: rng.random(),
        sections: Box::leak(sections.into_boxed_slice()),
        ..base
    }
}

/// Takes parts away now and then: a section without guitars, without pad, without crash.
fn thinned(section: Section, rng: &mut Pcg64Mcg) -> Section {
    let mut out = section;
    if rng.random_bool(0.15) {
        out.guitars = "";
    }
    if rng.random_bool(0.2) {
        out.clean = "";
    }
    if rng.random_bool(0.2) {
        out.pad = "";
    }
    if rng.random_bool(0.1) {
        out.bass = "";
    }
    out.crash = out.crash && rng.random_bool(0.7);
    out
}

/// A kit that has every piece that the sections play.
fn kit_for(
    sections: &[Section],
    kits: &[&'static str],
    rng: &mut Pcg64Mcg,
) -> Option<&'static str> {
    let pieces: Vec<Drum> = sections
        .iter()
        .flat_map(|s| s.drums.iter().chain(s.fill).map(|(drum, _)| *drum).chain([Drum::Crash]))
        .collect();
    let fit: Vec<&'static str> = kits
        .iter()
        .copied()
        .filter(|name| {
            kits::kit(name).is_some_and(|kit| pieces.iter().all(|p| kit.source(*p).is_some()))
        })
        .collect();
    fit.choose(rng).copied()
}

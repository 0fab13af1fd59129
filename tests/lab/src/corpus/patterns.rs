//! Sections drawn step by step, from nobody's song: for fits that must not know the written rows.
//!
//! Each step of a bar has a weight (downbeat, beat, half a beat, the rest); a row is one chance a
//! step from that weight. Two bars of drums cycle; the rest follows the drums or a pulse of its own.

use super::drums::Drum;
use super::song::{DrumRow, Section};
use rand::{Rng, seq::IndexedRandom};

/// A section of two to four bars in bars of `beats` quarters of `steps` steps.
///
/// Its rows are leaked, as the songs of [`super::shuffle`] are.
pub fn section(rng: &mut impl Rng, steps: usize, beats: usize) -> Section {
    let bar = steps * beats;
    let chords: Vec<(i32, bool)> = (0..rng.random_range(2..=4))
        .map(|_| (rng.random_range(26..40), rng.random_bool(0.5)))
        .collect();
    let kick = kick(rng, steps, 2 * bar);
    let drums = drums(rng, kick, steps, bar);
    let fill: &[DrumRow] = if rng.random_bool(0.6) { fill(rng, steps, bar) } else { &[] };
    let bass = match rng.random_range(0..5) {
        0 => "",
        1 => held(rng, bar, 'R', steps * beats),
        2 => leak(kick.chars().take(bar).map(|c| if c == '.' { '.' } else { 'R' })),
        3 => held(rng, bar, 'R', steps),
        _ => held(rng, bar, 'R', steps.div_ceil(2)),
    };
    let guitars = match rng.random_range(0..6) {
        0 | 1 => "",
        2 => held(rng, bar, 'P', bar),
        3 => held(rng, bar, 'P', steps),
        4 => leak((0..bar).map(|_| *['m', 'm', 'P', '.'].choose(rng).expect("four"))),
        _ => leak(kick.chars().take(bar).map(|c| if c == '.' { '-' } else { 'P' })),
    };
    let clean = if rng.random_bool(0.3) {
        leak((0..bar).map(|_| *['R', 'F', 'O', '.', '.', '-'].choose(rng).expect("six")))
    } else {
        ""
    };
    let pad = if rng.random_bool(0.35) { held(rng, bar, 'C', bar) } else { "" };
    let organ = if rng.random_bool(0.15) { held(rng, bar, 'C', steps) } else { "" };
    Section {
        repeats: 1,
        chords: Box::leak(chords.into_boxed_slice()),
        drums,
        fill,
        crash: rng.random_bool(0.4),
        bass,
        guitars,
        clean,
        pad,
        organ,
    }
}

fn leak(row: impl Iterator<Item = char>) -> &'static str {
    Box::leak(row.collect::<String>().into_boxed_str())
}

/// A note of `key` every `every` steps, held or cut short.
fn held(rng: &mut impl Rng, bar: usize, key: char, every: usize) -> &'static str {
    let rest = if rng.random_bool(0.8) { '-' } else { '.' };
    leak((0..bar).map(|step| if step % every.max(1) == 0 { key } else { rest }))
}

fn kick(rng: &mut impl Rng, steps: usize, length: usize) -> &'static str {
    // Four on the floor, double kick, or drawn from weights.
    let style = rng.random_range(0..8);
    let busy = rng.random_range(0.4..1.4);
    leak((0..length).map(|step| {
        let (beat, half) = (step % steps == 0, step % steps.div_ceil(2) == 0);
        let chance: f64 = match style {
            0 => f64::from(u8::from(beat)),
            1 if step % (4 * steps) < 2 * steps => 0.9,
            _ if step % (4 * steps) == 0 => 0.97,
            _ if beat => 0.35 * busy,
            _ if half => 0.3 * busy,
            _ => 0.1 * busy,
        };
        if rng.random_bool(chance.min(1.0)) { if beat { 'X' } else { 'x' } } else { '.' }
    }))
}

fn drums(rng: &mut impl Rng, kick: &'static str, steps: usize, bar: usize) -> &'static [DrumRow] {
    let snare = *[Drum::Snare, Drum::Snare, Drum::Snare, Drum::Clap, Drum::SideStick]
        .choose(rng)
        .expect("five");
    let half_time = rng.random_bool(0.2);
    let ghosts = rng.random_range(0.0..0.12);
    let backbeat = |step: usize| {
        let beat = step / steps;
        step.is_multiple_of(steps) && if half_time { beat % 4 == 2 } else { beat % 2 == 1 }
    };
    let snares = leak((0..2 * bar).map(|step| match () {
        () if backbeat(step) => 'X',
        () if rng.random_bool(ghosts) => *['o', 'o', 'x'].choose(rng).expect("three"),
        () => '.',
    }));
    let mut rows = vec![(Drum::Kick, kick), (snare, snares)];
    let every = *[1, steps.div_ceil(2), steps.div_ceil(2), steps].choose(rng).expect("four");
    let time = *[Drum::HatClosed, Drum::HatClosed, Drum::Ride, Drum::HatOpen, Drum::Crash]
        .choose(rng)
        .expect("five");
    if rng.random_bool(0.9) {
        let soft = rng.random_bool(0.3);
        rows.push((
            time,
            leak((0..bar).map(|step| match () {
                () if !step.is_multiple_of(every) => '.',
                () if step.is_multiple_of(steps) && !soft => 'X',
                () if soft => 'o',
                () => 'x',
            })),
        ));
    }
    Box::leak(rows.into_boxed_slice())
}

fn fill(rng: &mut impl Rng, steps: usize, bar: usize) -> &'static [DrumRow] {
    const PIECES: [Drum; 4] = [Drum::Snare, Drum::TomHigh, Drum::TomMid, Drum::TomLow];
    let from = bar - steps * rng.random_range(1..=(bar / steps).min(4));
    let mut rows = vec![vec!['.'; bar]; PIECES.len()];
    let mut piece = 0;
    for step in 0..bar {
        if step < from {
            if step % (2 * steps) == steps {
                rows[0][step] = 'X';
            }
        } else if rng.random_bool(0.8) {
            rows[piece][step] = *['X', 'x', 'x'].choose(rng).expect("three");
            if rng.random_bool(0.25) {
                piece = (piece + 1).min(PIECES.len() - 1);
            }
        }
    }
    let rows: Vec<DrumRow> =
        PIECES.into_iter().zip(rows).map(|(drum, row)| (drum, leak(row.into_iter()))).collect();
    Box::leak(rows.into_boxed_slice())
}

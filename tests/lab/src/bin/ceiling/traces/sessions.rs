//! Rows of songs that are made part by part: drawn sessions, and songs of the second generator.

use std::collections::BTreeMap;

use brunt_lab::corpus::{Mix, Stereo, mix, process};
use brunt_lab::session::{self, drawn};
use brunt_lab::take::Variant;
use rand::Rng;

use super::{Done, Rows, in_other_hands, keep, processor, seeds};

/// Rows of `count` drawn sessions, all parts together in other hands, likewise.
pub fn mixes(out: &str, count: u64, seed: u64) -> Done {
    let mut rows = Rows::create(out)?;
    let mut library = mix::Library::default();
    for (index, seed, mut rng) in seeds(count, seed) {
        let session = session::render(&drawn::draw(seed, 24.0), 48_000, &mut library)?;
        let name = format!("mixes-{seed}");
        let audio = session.mix();
        let mut buses: BTreeMap<_, _> =
            session.stems.into_iter().map(|stem| (stem.name, stem.audio)).collect();
        // Three takes of the drums, of which a mix has one; and some of the rest.
        let kept = ["drums", "drums-2", "drums-3"][rng.random_range(0..3)];
        buses
            .retain(|name, _| *name == kept || (!name.starts_with("drum") && rng.random_bool(0.8)));
        let mut mix = Mix { audio, buses, truth: Vec::new() };
        let all: Vec<&str> = mix.buses.keys().copied().collect();
        if !keep(&mut mix, &all) {
            continue;
        }
        mix.audio.gain(0.89 / mix.audio.peak());
        in_other_hands(&mut mix, &mut rng);
        rows.driven([&name, kept], &mix, 6, &mut rng)?;
        eprintln!("{index}/{count}");
    }
    rows.finish()
}

/// Rows of `count` songs of the second generator, half of them in other hands, as they are and at drives
/// drawn over what the song has. In other hands the guitars are panned anew, and nothing stands in a room.
pub fn second(out: &str, count: u64, seed: u64) -> Done {
    let mut rows = Rows::create(out)?;
    let mut library = mix::Library::default();
    for (index, seed, mut rng) in seeds(count, seed) {
        let variant = match rng.random_range(0..5) {
            0 => Variant::Scattered,
            1 => Variant::Layer(rng.random_range(-6.0..3.0)),
            2 => Variant::Gain(rng.random_range(0.0..40.0)),
            3 => Variant::Jitter(rng.random_range(2.0..12.0)),
            _ => Variant::Locked,
        };
        let take = brunt_lab::second::take(seed, variant, &mut library)?;
        let mut mix = Mix { audio: take.mix, buses: BTreeMap::new(), truth: Vec::new() };
        if rng.random_bool(0.5) {
            let width = rng.random_range(0.2..1.0);
            mix.buses.extend(take.parts.into_iter().map(|mut part| {
                part.audio.gain(part.fader);
                panned(&mut part.audio, part.name, width);
                (part.name, part.audio)
            }));
            in_other_hands(&mut mix, &mut rng);
        }
        mix.audio.gain(0.89 / mix.audio.peak());
        rows.driven([&format!("second-{seed}"), "second"], &mix, 6, &mut rng)?;
        eprintln!("{index}/{count}");
    }
    rows.finish()
}

/// Lays the left player as far to the left as `width` says, 1 for all the way, and the right one to the right.
fn panned(audio: &mut Stereo, name: &str, width: f32) {
    let far = match name {
        "left" => &mut audio.right,
        "right" => &mut audio.left,
        _ => return,
    };
    far.iter_mut().for_each(|x| *x *= 1.0 - width);
}

/// Rows of `count` drawn sessions' parts alone, but for drums, as they are and now and then through a
/// processor: equal notes and saturated amplifiers look like a ceiling and are none.
pub fn parts(out: &str, count: u64, seed: u64) -> Done {
    const TAKES: [&[&str]; 6] = [
        &["bass"],
        &["guitar-left"],
        &["guitar-left", "guitar-right"],
        &["clean"],
        &["bass", "guitar-left", "guitar-right"],
        &["bass", "clean", "vocals"],
    ];
    takes(out, "parts", &TAKES, 0.5, [count, seed])
}

/// Rows of their drums alone, three kits each, and of mixes of all parts, each as it is and through a
/// processor: equal strokes look like a ceiling and are none.
pub fn kits(out: &str, count: u64, seed: u64) -> Done {
    const TAKES: [&[&str]; 5] = [
        &["drums"],
        &["drums-2"],
        &["drums-3"],
        &["drums", "bass", "guitar-left", "guitar-right", "vocals"],
        &["drums-3", "bass", "clean"],
    ];
    takes(out, "session", &TAKES, 1.0, [count, seed])
}

/// Rows of those parts of `count` drawn sessions of names with `kind` ahead, as they are, and that share
/// of them through a processor.
fn takes(
    out: &str,
    kind: &str,
    takes: &[&[&str]],
    processed: f64,
    [count, seed]: [u64; 2],
) -> Done {
    let mut rows = Rows::create(out)?;
    let mut library = mix::Library::default();
    for (index, seed, mut rng) in seeds(count, seed) {
        let session = session::render(&drawn::draw(seed, 24.0), 48_000, &mut library)?;
        let name = format!("{kind}-{seed}");
        let audio = session.mix();
        let buses = session.stems.into_iter().map(|stem| (stem.name, stem.audio)).collect();
        let whole = Mix { audio, buses, truth: Vec::new() };
        for take in takes {
            let mut mix = whole.clone();
            if !keep(&mut mix, take) {
                continue;
            }
            mix.audio.gain(0.89 / mix.audio.peak());
            let what = [name.as_str(), take[0]];
            rows.unlimited(what, &mix, &mut rng)?;
            if rng.random_bool(processed) {
                let (name, processor) = processor(&mut rng, false);
                let drive = rng.random_range(1.0..13.0);
                let processed = process::run(processor, &mix, drive)?;
                rows.take(what, name, drive, &processed, &mut rng)?;
            }
        }
        eprintln!("{index}/{count}");
    }
    rows.finish()
}

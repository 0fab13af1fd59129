//! Rules of thumb of the trade. Each is common practice, no source; our limits.

use crate::rendered::{all, meter};
use brunt_lab::corpus::ceiling::quantile;
use brunt_lab::corpus::process::{Processor, equal, limit, run};
use brunt_lab::corpus::{Stereo, audio::db};

fn contrast(audio: &Stereo) -> f64 {
    meter(audio).readings.punch.contrast_db.unwrap_or_else(|| panic!("no hits"))
}

fn deficit(audio: &Stereo) -> f64 {
    meter(audio).readings.balance.mid_deficit_db.unwrap_or_else(|| panic!("no balance"))
}

/// A few dB of limiting at matched loudness costs hit contrast: 9 dB of drive, which takes 2-5 dB
/// from the hits, on all songs. Contrast does not change with gain, so loudness is matched by its
/// definition.
#[test]
fn limiting_costs_hit_contrast() {
    let mut costs = Vec::new();
    for rendered in all() {
        let both = run(Processor::Limiter(limit::SLOW), &rendered.mix, 9.0)
            .unwrap_or_else(|e| panic!("{e}"));
        let (before, after) = (contrast(&both.before), contrast(&both.after));
        println!("{:<16} {before:.2} -> {after:.2} dB", rendered.song.name);
        costs.push(before - after);
    }
    let median = quantile(costs.clone(), 0.5);
    println!("median cost {median:.2} dB, smallest {:.2}", quantile(costs.clone(), 0.0));
    assert!(median > 0.5, "median cost {median:.2} dB, expected more than 0.5");
    assert!(costs.iter().all(|c| *c > 0.0), "some song gains contrast by limiting: {costs:.2?}");
}

/// Shelves near 60 Hz and 12 kHz, 6 dB each, raise the mid deficit of every song; a broad lift of
/// 3 dB near 700 Hz gives some back.
#[test]
fn shelves_raise_the_mid_deficit_and_a_mid_lift_gives_some_back() {
    for rendered in all() {
        let flat = &rendered.mix.audio;
        let scooped = equal::high_shelf(&equal::low_shelf(flat, 60.0, 6.0), 12_000.0, 6.0);
        let lifted = equal::bell(&scooped, 700.0, 0.7, 3.0);
        let (a, b, c) = (deficit(flat), deficit(&scooped), deficit(&lifted));
        println!("{:<16} deficit {a:+.2}, shelves {b:+.2}, lift {c:+.2} dB", rendered.song.name);
        assert!(b > a + 2.0, "{}: {a:.2} -> {b:.2} dB", rendered.song.name);
        assert!(c < b - 1.0, "{}: {b:.2} -> {c:.2} dB", rendered.song.name);
    }
}

/// The same shelves cost hit contrast at matched loudness where it counts, on small speakers that
/// drop off below 150-300 Hz and a listener who follows the mids; the lift gives some back. Heard
/// through a band of 200 Hz to 4 kHz, with the shelved mix brought to the loudness of the flat one:
/// the hits' level falls with the shelves and rises with the lift.
#[test]
fn shelves_take_level_from_hits_on_small_speakers_and_a_mid_lift_gives_some_back() {
    let (mut costs, mut gains) = (Vec::new(), Vec::new());
    for rendered in all() {
        let flat = &rendered.mix.audio;
        let scooped = equal::high_shelf(&equal::low_shelf(flat, 60.0, 6.0), 12_000.0, 6.0);
        let lifted = equal::bell(&scooped, 700.0, 0.7, 3.0);
        let [a, b, c] = [flat, &scooped, &lifted].map(small_speaker_level);
        println!("{:<16} {a:.2}, shelves {b:.2}, lift {c:.2} LUFS", rendered.song.name);
        costs.push(a - b);
        gains.push(c - b);
    }
    assert!(costs.iter().all(|c| *c > 0.0), "{costs:.2?}");
    assert!(gains.iter().all(|g| *g > 0.0), "{gains:.2?}");
}

/// Median level of hits on a small speaker, LUFS, with the mix brought to -14 LUFS.
fn small_speaker_level(mix: &Stereo) -> f64 {
    let loudness = brunt_lab::corpus::truth::loudness(mix).unwrap_or_else(|| panic!("silence"));
    let mut small = equal::band(mix, 200.0, 4_000.0);
    small.gain(db(-14.0 - loudness));
    quantile(meter(&small).hits.iter().map(|h| h.level_lufs).collect(), 0.5)
}

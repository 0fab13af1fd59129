//! The delay between main and side-chain against delays that the test has made.

use crate::rig::{RATE, delayed, programmes, random_delay, run, with_noise};
use brunt_engine::{Relation, SideRole};
use brunt_lab::corpus::process::{equal, limit};
use brunt_lab::corpus::{Stereo, audio::db};
use rayon::prelude::*;

/// Runs every programme through `change` and both ways in time; gives each error in frames and
/// the time of the first finding. Panics where no relation or another delay was found.
fn errors(change: impl Fn(&Stereo, u64) -> Stereo + Sync, limit_frames: f64) {
    let rows: Vec<(f64, f64)> = programmes()
        .par_iter()
        .flat_map(|(mix, seed)| {
            let audio = mix.first(6.0).audio;
            let changed = change(&audio, *seed);
            let delay = random_delay(*seed);
            // Main behind side, and side behind main.
            let pairs = [
                (delayed(&changed, delay), audio.clone(), delay),
                (changed, delayed(&audio, delay), -delay),
            ];
            pairs.map(|(main, side, want)| {
                let run = run(&main, &side, SideRole::Before, 512);
                let alignment = run.readings.compare.expect("a side-chain").alignment;
                assert_eq!(
                    alignment.relation,
                    Relation::Found,
                    "seed {seed}, {want}: {alignment:?}"
                );
                let got = alignment.delay_frames.expect("found");
                // Before the sound starts there is nothing to find: time counts from the later
                // stream's first sound.
                let found = run.found_s.expect("found") - delay / f64::from(RATE);
                (got - want, found)
            })
        })
        .collect();
    let worst = rows.iter().map(|(error, _)| error.abs()).fold(0.0, f64::max);
    let latest = rows.iter().map(|(_, found)| *found).fold(0.0, f64::max);
    println!("worst error {worst:.4} frames, found {latest:.2} s after the later start at most");
    assert!(worst < limit_frames, "error {worst} frames, expected under {limit_frames}");
    assert!(latest <= 2.0, "found after {latest} s, expected 2 s");
}

/// Bar: under 0.1 frame without an equaliser; the oracle is the windowed sinc.
#[test]
fn a_plain_delay_is_found_to_a_tenth_of_a_frame() {
    errors(|audio, _| audio.clone(), 0.1);
}

/// The same with independent white noise 20 dB under the programme.
#[test]
fn noise_at_minus_twenty_decibels_does_not_hide_it() {
    errors(|audio, seed| with_noise(audio, -20.0, seed), 0.1);
}

/// The same with a limiter between, driven by 6 dB, quick or program-dependent.
#[test]
fn a_limiter_between_does_not_hide_it() {
    errors(
        |audio, seed| {
            let mut driven = audio.clone();
            driven.gain(db(6.0));
            let limiter = if seed % 2 == 0 { limit::FAST } else { limit::PROGRAM };
            limiter.run(&driven, audio.peak())
        },
        0.1,
    );
}

/// Bar: under one frame with an equaliser between: both shelves of the trade (60 Hz and 12 kHz,
/// +6 dB) and a dip at 700 Hz, then a limiter.
#[test]
fn an_equaliser_between_moves_it_by_less_than_a_frame() {
    errors(
        |audio, _| {
            let shelved = equal::high_shelf(&equal::low_shelf(audio, 60.0, 6.0), 12_000.0, 6.0);
            limit::FAST.run(&equal::bell(&shelved, 700.0, 0.7, -6.0), audio.peak())
        },
        1.0,
    );
}

/// A stream with the other sign is one programme too, and is told apart.
#[test]
fn a_turned_sign_is_found_and_told() {
    let audio = programmes()[0].0.first(5.0).audio;
    let mut turned = delayed(&audio, 1_000.25);
    turned.gain(-0.5);
    let compare = run(&turned, &audio, SideRole::Before, 512).readings.compare.expect("compared");
    let alignment = compare.alignment;
    assert!(alignment.inverted && alignment.relation == Relation::Found, "{alignment:?}");
    assert!((alignment.delay_frames.expect("found") - 1_000.25).abs() < 0.1, "{alignment:?}");
}

/// The host's latency changes while it plays: the new delay stands within 2 s.
#[test]
fn a_changed_delay_is_followed() {
    for (mix, seed) in &programmes()[..6] {
        let (first, second) = (random_delay(*seed), random_delay(seed + 100));
        let audio = mix.first(10.0).audio;
        let mut main = delayed(&audio, first);
        let later = delayed(&audio, second);
        let change = 5 * RATE as usize;
        main.left[change..].copy_from_slice(&later.left[change..]);
        main.right[change..].copy_from_slice(&later.right[change..]);
        let run = run(&main, &audio, SideRole::Before, 512);
        let at = |s: f64| {
            let step = (s * 10.0) as usize - 1;
            run.steps[step].compare.and_then(|c| c.alignment.delay_frames)
        };
        let (before, after) = (at(4.9).expect("found"), at(7.0));
        assert!((before - first).abs() < 0.1, "seed {seed}: {before} for {first}");
        let after = after.unwrap_or_else(|| panic!("seed {seed}: nothing 2 s after the change"));
        assert!((after - second).abs() < 0.1, "seed {seed}: {after} for {second}");
    }
}

/// Other sample rates: the cells, blocks and decimation differ.
#[test]
fn every_usual_rate_finds_it() {
    for rate in [8_000u32, 44_100, 96_000, 192_000] {
        let mix = &programmes()[3].0;
        let short = mix.first(4.0).audio;
        let audio = brunt_lab::corpus::resample::stereo(&short, rate);
        let delay = 0.123_4 * f64::from(rate);
        let compare = run(&delayed(&audio, delay), &audio, SideRole::Before, 512)
            .readings
            .compare
            .expect("compared");
        let got = compare.alignment.delay_frames;
        let got = got.unwrap_or_else(|| panic!("{rate} Hz: {:?}", compare.alignment));
        assert!((got - delay).abs() < 0.1, "{rate} Hz: {got} for {delay}");
    }
}

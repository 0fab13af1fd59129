//! Hit contrast as a small speaker leaves it.

use crate::rendered::{all, meter};
use brunt_lab::corpus::amp::Biquad;
use brunt_lab::corpus::{Stereo, ceiling::quantile};

/// Filters commute: the contrast that Brunt reads for a small speaker is the contrast that it reads
/// of a mix which went through such a speaker. The speaker here is the corpus' own second-order
/// high-pass at 200 Hz. Hits are matched within 3 ms. The speaker's mix has other
/// onsets here and there, and with them other surroundings, so the strict bound is on the median.
#[test]
fn the_reading_is_that_of_a_mix_through_the_speaker() {
    for rendered in all().iter().take(4) {
        let whole = meter(&rendered.mix);
        let through = meter(&high_passed(&rendered.mix));
        let mut apart = Vec::new();
        for hit in &whole.hits {
            let near = through.hits.iter().find(|other| (other.time_s - hit.time_s).abs() < 3e-3);
            if let Some(other) = near {
                apart.push((other.contrast_db - hit.small_contrast_db).abs());
            }
        }
        let matched = apart.len() as f64 / whole.hits.len() as f64;
        let [median, p90] = [0.5, 0.9].map(|q| quantile(apart.clone(), q));
        println!("{:<16} {matched:.2} matched: {median:.3}, {p90:.3} dB apart", rendered.name);
        assert!(matched > 0.5, "{}: {matched:.2} of the hits matched", rendered.name);
        assert!(median < 0.05 && p90 < 1.5, "{}: {median:.3}, {p90:.3} dB", rendered.name);
    }
}

/// A kick without a click (a decaying 55 Hz tone) beside a snare-like burst of 1 kHz, over a steady
/// 700 Hz tone. Two octaves under the corner the kick loses 22 dB (closed form) and comes under the
/// tone: on a small speaker the first vanishes and the second stays.
#[test]
fn a_kick_without_a_click_vanishes_and_a_snare_stays() {
    let rate = 48_000;
    let mut mix = Stereo::silence(rate, 10 * rate as usize);
    for i in 0..mix.len() {
        let t = i as f64 / f64::from(rate);
        let beat = (t % 1.0, (t + 0.5) % 1.0);
        let kick = 0.6 * (-beat.0 / 0.08).exp() * wave(55.0, beat.0) * (beat.0 / 0.004).min(1.0);
        let snare = 0.4 * (-beat.1 / 0.06).exp() * wave(1_000.0, beat.1);
        let x = (0.1 * wave(700.0, t) + kick + snare) as f32;
        (mix.left[i], mix.right[i]) = (x, x);
    }
    let measured = meter(&mix);
    let (mut kicks, mut snares) = (0, 0);
    for hit in measured.hits.iter().filter(|hit| hit.time_s > 0.9 && hit.time_s < 9.0) {
        let on_kick = (hit.time_s % 1.0 - 0.5).abs() > 0.4;
        println!(
            "{:.3} s, {:.1} dB, small {:.1} dB",
            hit.time_s, hit.contrast_db, hit.small_contrast_db
        );
        if on_kick {
            kicks += 1;
            assert!(hit.vanishes_on_small_speaker(), "kick: {hit:?}");
        } else {
            snares += 1;
            assert!(!hit.vanishes_on_small_speaker(), "snare: {hit:?}");
        }
    }
    assert!(kicks >= 7 && snares >= 7, "{kicks} kicks, {snares} snares");
    let vanished = measured.readings.small_speaker.vanished;
    assert!(vanished.is_some_and(|n| n >= 7), "{vanished:?}");
}

fn wave(hz: f64, t: f64) -> f64 {
    (std::f64::consts::TAU * hz * t).sin()
}

fn high_passed(mix: &Stereo) -> Stereo {
    let mut out = mix.clone();
    for channel in [&mut out.left, &mut out.right] {
        let mut stage = Biquad::high_pass(200.0, f64::from(mix.rate));
        channel.iter_mut().for_each(|x| *x = stage.run(*x));
    }
    out
}

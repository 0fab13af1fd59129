use super::*;

#[test]
fn every_version_is_whole_and_comes_out_the_same_twice() {
    let first = render(Version::Clean);
    let again = render(Version::Clean);
    assert_eq!(first.mix, again.mix);
    assert_eq!(first.mix.len(), frames(DURATION_S));
    for sample in first.mix.left.iter().chain(&first.mix.right) {
        assert!(sample.is_finite());
    }
    // The mix is what its stems add up to.
    let mut sum = mixdown::sum(&first.stems);
    sum.scale(-1.0);
    sum.add(&first.mix);
    assert!(sum.peak() < 1e-5, "{}", sum.peak());
}

#[test]
fn the_clean_mix_lies_near_the_published_long_term_curve() {
    // Elowsson & Friberg 2017: L(f) = -2.35 u - 0.659 u^2 dB, u = log2(f / 200 Hz), as power
    // density. Its authors give a spread between tracks of up to 10 dB in the bass; the clean
    // mix keeps within 6 dB in every octave.
    let mix = render(Version::Clean).mix;
    let octaves = [50.0, 100.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12_800.0];
    let over: Vec<f64> = octaves
        .iter()
        .map(|hz| {
            let u = (hz / 200.0_f64).log2();
            let power: f64 = [&mix.left, &mix.right]
                .into_iter()
                .map(|channel| {
                    let mut band: Vec<f64> = channel.iter().map(|s| f64::from(*s)).collect();
                    for _ in 0..2 {
                        filter::Biquad::band_pass(*hz, 1.8).run(&mut band);
                    }
                    band.iter().map(|s| s * s).sum::<f64>()
                })
                .sum();
            // Bands are equally wide in octaves, so their width in Hz goes with their centre.
            10.0 * (power / hz).log10() - (-2.35 * u - 0.659 * u * u)
        })
        .collect();
    let mean = over.iter().sum::<f64>() / over.len() as f64;
    for (hz, over) in octaves.iter().zip(&over) {
        assert!((over - mean).abs() < 6.0, "{hz} Hz: {:.1} dB", over - mean);
    }
}

#[test]
fn the_limiter_takes_what_the_session_says_and_never_passes_its_ceiling() {
    let session = render(Version::Ceiling);
    // -1 dBFS, and the rounding of one sample to single precision.
    assert!(session.mix.peak() <= 0.891_252);
    let mut at_hits: Vec<f32> = session
        .drum_hits_s
        .iter()
        .map(|at| {
            let from = frames(*at);
            session.limiter_gain_db[from..from + frames(0.05)].iter().copied().fold(0.0, f32::min)
        })
        .collect();
    at_hits.sort_by(f32::total_cmp);
    let median = at_hits[at_hits.len() / 2];
    assert!((-5.5..=-3.5).contains(&median), "{median} dB");
}

#[test]
fn a_string_is_in_tune() {
    // Counted by its own zero crossings, away from the pick: the low E of a guitar, 82.41 Hz.
    let how = strings::Pluck {
        hz: strings::hz(40.0),
        length_s: 2.0,
        decay_s: 4.0,
        bright: 0.3,
        place: 0.5,
        pick_hz: 300.0,
    };
    let mut sound = strings::pluck(&how, &mut feel::Feel::new(1, 0.0, 0.0));
    for _ in 0..3 {
        filter::Biquad::low_pass(90.0, 0.7).run(&mut sound);
    }
    let part = &sound[frames(0.5)..frames(1.5)];
    let rising: Vec<usize> =
        (1..part.len()).filter(|i| part[i - 1] < 0.0 && part[*i] >= 0.0).collect();
    let (first, last) = (rising[0], rising[rising.len() - 1]);
    let hz = f64::from(SAMPLE_RATE_HZ) * (rising.len() - 1) as f64 / (last - first) as f64;
    assert!((1200.0 * (hz / 82.407).log2()).abs() < 5.0, "{hz} Hz");
}

/// The parts alone show which of timing and clutter was put in, and none where none was: what the
/// plug-in reads live.
#[test]
fn the_parts_show_what_was_put_in_and_nothing_else() {
    use brunt_engine::parts::{PartTrack, Session as Parts};
    use brunt_engine::{Config, LeakKind, Thresholds};

    for version in [Version::Clean, Version::Timing, Version::Clutter] {
        let session = render(version);
        let config = Config { sample_rate_hz: f64::from(SAMPLE_RATE_HZ), channels: 2 };
        let track = |stem: &Stem| {
            let planes = [&stem.audio.left[..], &stem.audio.right[..]];
            PartTrack::measure(stem.role, stem.name, config, &planes).expect("48 kHz")
        };
        let parts = Parts { tracks: session.stems.iter().map(track).collect() };
        let reading = parts.read(&Thresholds::default());
        for (kind, leak) in
            [(LeakKind::Timing, reading.timing.leak), (LeakKind::Clutter, reading.clutter.leak)]
        {
            println!("{version:?}: {kind:?} {leak:?}");
            let planted = matches!(
                (version, kind),
                (Version::Timing, LeakKind::Timing) | (Version::Clutter, LeakKind::Clutter)
            );
            assert_eq!(leak.state.loses(), planted, "{version:?}: {kind:?} {leak:?}");
        }
    }
}

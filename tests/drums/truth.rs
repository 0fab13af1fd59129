//! The corpus itself: where its truth could be wrong.

use crate::rendered::{RATE, one};
use brunt_lab::corpus::ceiling::{at, programmed_hits};
use brunt_lab::corpus::process::after::After;
use brunt_lab::corpus::process::{ALL, Processor, run};
use brunt_lab::corpus::score::{Onset, score};
use brunt_lab::corpus::{CorpusError, Stereo, packages::Package};
use rand::{Rng, SeedableRng};

/// Length of what is processed here, s.
const SHORT_S: f64 = 8.0;

/// Lag of `b` behind `a` at the largest cross-correlation within +-2000 frames.
fn lag(a: &Stereo, b: &Stereo) -> i64 {
    let window = &a.left[5 * RATE as usize..6 * RATE as usize];
    (-2000_i64..=2000)
        .map(|lag| {
            let start = (5 * i64::from(RATE) + lag) as usize;
            let sum: f64 = window
                .iter()
                .zip(&b.left[start..])
                .map(|(x, y)| f64::from(*x) * f64::from(*y))
                .sum();
            (lag, sum)
        })
        .max_by(|x, y| x.1.total_cmp(&y.1))
        .map_or(0, |(lag, _)| lag)
}

/// Every processor and codec leaves the mix where it was: the truth compares peaks at equal times.
#[test]
fn nothing_moves_the_mix_in_time() {
    let mix = &one("gravel-road").mix.first(SHORT_S);
    for (name, processor) in ALL {
        let both = run(*processor, mix, 6.0).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(lag(&both.before, &both.after), 0, "{name}");
    }
    for after in [After::Bits16, After::Mp3, After::Aac, After::Opus] {
        let out = after.run(&mix.audio).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(lag(&mix.audio, &out), 0, "{}", after.name());
    }
}

/// Driven by so much into a ceiling at its own true peak, the loudest hit of a mix loses exactly
/// that in a hard clipper (closed form), and a limiter leaves it at the ceiling too.
#[test]
fn the_loudest_hit_loses_the_drive() {
    let mix = &one("gravel-road").mix.first(SHORT_S);
    let hits = programmed_hits(mix);
    for (name, tolerance_db) in [("hard-clip", 0.25), ("limit-fast", 0.25), ("alimiter-5-50", 0.25)]
    {
        let processor = brunt_lab::corpus::process::by_name(name);
        let processor = processor.unwrap_or_else(|| panic!("no {name}"));
        for drive_db in [0.0, 3.0, 9.0] {
            let both = run(processor, mix, drive_db).unwrap_or_else(|e| panic!("{e}"));
            let most = at(&both, &hits).reduction_db(1.0);
            assert!((most - drive_db).abs() < tolerance_db, "{name} {drive_db} dB: {most:.2} dB");
        }
    }
}

/// An idle limiter takes nothing: the control for the test above.
#[test]
fn an_idle_processor_takes_nothing() {
    let mix = &one("late-train").mix.first(SHORT_S);
    for (name, processor) in ALL {
        if matches!(processor, Processor::TanhClip | Processor::CubicClip) {
            continue; // They bend at any level.
        }
        let both = run(*processor, mix, 0.0).unwrap_or_else(|e| panic!("{e}"));
        let most = at(&both, &programmed_hits(mix)).reduction_db(1.0);
        assert!(most.abs() < 0.1, "{name}: {most:.3} dB");
    }
}

/// The matching in order of time finds as many pairs as the best of all matchings, tried out one
/// by one on small random cases (definition: mir_eval.onset, maximum matching).
#[test]
fn matching_in_order_is_a_largest_matching() {
    let seed = 20_261_125;
    let mut random = rand_pcg::Pcg64::seed_from_u64(seed);
    for round in 0..2_000 {
        let mut times = |n: usize| {
            let mut list: Vec<f64> = (0..n).map(|_| random.random_range(0.0..0.1)).collect();
            list.sort_by(f64::total_cmp);
            list
        };
        let (truth, detected) = (times(round % 7), times((round / 7) % 7));
        let points: Vec<Onset> = truth.iter().map(|t| Onset::at(*t)).collect();
        let found = score(&points, &detected, 0.010).pairs.len();
        let best = largest(&truth, &mut detected.clone(), 0.010);
        assert_eq!(found, best, "seed {seed} round {round}: {truth:?} {detected:?}");
    }
}

/// Size of a largest matching, by trying every choice.
fn largest(truth: &[f64], detected: &mut Vec<f64>, tolerance: f64) -> usize {
    let Some((first, rest)) = truth.split_first() else { return 0 };
    let mut best = largest(rest, detected, tolerance);
    for i in 0..detected.len() {
        if (detected[i] - first).abs() <= tolerance {
            let taken = detected.remove(i);
            best = best.max(1 + largest(rest, detected, tolerance));
            detected.insert(i, taken);
        }
    }
    best
}

/// A missing package is an error that says what to do, never a silent skip.
#[test]
fn a_missing_sound_names_its_package_and_the_way_out() {
    let error = Package::SonicPi.file("no-such-drum.flac").expect_err("there is no such drum");
    assert!(matches!(error, CorpusError::Missing { package: "sonic-pi-samples", .. }));
    let text = error.to_string();
    assert!(text.contains("sonic-pi-samples") && text.contains("cargo xtask setup"), "{text}");
}

/// The same recipe gives the same samples, bit for bit.
#[test]
fn rendering_is_deterministic() {
    use brunt_lab::corpus::mix::{Library, render};
    let first = one("short-fuse");
    let again =
        render(&first.song, RATE, &mut Library::default()).unwrap_or_else(|e| panic!("{e}"));
    assert!(first.mix.audio == again.audio);
    assert_eq!(first.mix.truth, again.truth);
}

/// The equalisers of the trade tests do what their names say: gain of sines, dB (closed form far
/// from the corner, half the gain at a shelf's midpoint).
#[test]
fn equalisers_have_their_gains() {
    use brunt_lab::corpus::process::equal::{bell, high_shelf, low_shelf};
    let gain = |hz: f64, equal: &dyn Fn(&Stereo) -> Stereo| {
        let step = std::f64::consts::TAU * hz / f64::from(RATE);
        let sine: Vec<f32> = (0..RATE).map(|n| (step * f64::from(n)).sin() as f32).collect();
        let input = Stereo { rate: RATE, left: sine.clone(), right: sine };
        let power =
            |x: &Stereo| -> f64 { x.left[24_000..].iter().map(|s| f64::from(*s).powi(2)).sum() };
        10.0 * (power(&equal(&input)) / power(&input)).log10()
    };
    let low = |x: &Stereo| low_shelf(x, 60.0, 6.0);
    let high = |x: &Stereo| high_shelf(x, 12_000.0, 6.0);
    let mid = |x: &Stereo| bell(x, 700.0, 0.7, 3.0);
    for (name, got, want) in [
        ("low shelf, 10 Hz", gain(10.0, &low), 6.0),
        ("low shelf, 60 Hz", gain(60.0, &low), 3.0),
        ("low shelf, 2 kHz", gain(2_000.0, &low), 0.0),
        ("high shelf, 1 kHz", gain(1_000.0, &high), 0.0),
        ("high shelf, 12 kHz", gain(12_000.0, &high), 3.0),
        ("high shelf, 23 kHz", gain(23_000.0, &high), 6.0),
        ("bell, 700 Hz", gain(700.0, &mid), 3.0),
        ("bell, 30 Hz", gain(30.0, &mid), 0.0),
    ] {
        assert!((got - want).abs() < 0.15, "{name}: {got:.2} dB, expected {want:.2}");
    }
}

//! Height, onset, attack and decay of the shape against the bursts' closed forms.

use brunt_engine::{HitsShape, SHAPE_POINTS, shape_ms};

use crate::bursts::{Bursts, Run, run};

const BURSTS: Bursts = Bursts { count: 60, tau_ms: 40.0, over_db: 27.0, apart: 28_800, seed: 11 };

fn played(bursts: &Bursts) -> (Run, Vec<u64>) {
    let (samples, starts) = bursts.render();
    (run(&samples, None, 512), starts)
}

fn level(shape: &HitsShape, ms: f64) -> f64 {
    let point = (0..SHAPE_POINTS).find(|point| shape_ms(*point) == ms).expect("a point");
    shape.level[point].expect("known").db
}

/// The height is the median of the hits' own contrast (bar: 0.1 dB), at decays from that of a rim
/// to that of a floor tom.
#[test]
fn the_height_is_the_hits_contrast() {
    for (tau_ms, over_db) in [(15.0, 20.0), (40.0, 27.0), (120.0, 14.0)] {
        let bursts = Bursts { tau_ms, over_db, ..BURSTS };
        let (run, _) = played(&bursts);
        assert_eq!(run.hits.len(), bursts.count, "every burst is a hit");
        let shape = run.stats(false).read().expect("hits");
        let height = shape.height_db.expect("known");
        let contrast = run.readings.punch.contrast_db.expect("known");
        println!("tau {tau_ms} ms: height {height:.2} dB, contrast {contrast:.2} dB");
        assert!((height - contrast).abs() < 0.1, "{height:.3} against {contrast:.3} dB");
    }
}

/// A song of many hits keeps the other work of the meter busy throughout: every hit has a shape all the
/// same, and all of it but the ends of the programme is known.
#[test]
fn every_hit_of_a_busy_song_has_its_shape() {
    let (run, _) = played(&Bursts { count: 300, tau_ms: 15.0, apart: 6_000, ..BURSTS });
    assert!(run.hits.len() > 280, "{} hits", run.hits.len());
    let shapes: Vec<_> = run.shapes.iter().filter(|shape| !shape.side).collect();
    assert_eq!(shapes.len(), run.hits.len(), "a shape for every hit");
    let whole = shapes[1..shapes.len() - 3]
        .iter()
        .all(|shape| (0..SHAPE_POINTS).all(|point| shape.level_db(point).is_some()));
    assert!(whole, "points were lost");
    assert!(run.stats(false).read().expect("hits").height_db.is_some());
}

/// The onset lies at 0 in the shape (bar: 0.5 ms). Were hits placed late, what is before 0 would
/// hold their start: each 0.1 ms of it adds a hundredth of the burst's power to the last window
/// ahead of the onset. Were they early, the first millisecond behind it would lack that part.
#[test]
fn the_onset_is_at_zero() {
    let (run, starts) = played(&BURSTS);
    let shape = run.stats(false).read().expect("hits");
    let over = |db: f64| 10f64.powf(db / 10.0);
    let burst = over(BURSTS.over_ground_db(0.0, 1.0)) - 1.0;
    // The surroundings hold the ground and the end of the bursts, so the ground is read from the shape.
    let ground = over(level(&shape, -20.0));
    let late_ms = (over(level(&shape, 0.0)) - ground).max(0.0) * 10.0 / (ground * burst);
    let early_ms = 1.0 - (over(level(&shape, 1.0)) / ground - 1.0) / burst;
    println!("late by {late_ms:.3} ms at most, early by {early_ms:.3} ms");
    assert!(late_ms < 0.5 && early_ms < 0.5, "late {late_ms:.3} ms, early {early_ms:.3} ms");
    let errors: Vec<f64> = run
        .hits
        .iter()
        .zip(&starts)
        .map(|(hit, start)| (hit.frame as f64 - *start as f64).abs() / 48.0)
        .collect();
    assert!(errors.iter().all(|error| *error < 0.5), "{errors:?}");
}

/// Level over the ground at each point behind the onset, and with it attack, decay and space,
/// follow the closed form. White noise of 10 ms at 48 kHz leaves 0.28 dB of chance to each hit
/// (standard deviation of a mean of 480 squares), and the median over 60 a sixth of that.
#[test]
fn levels_follow_the_decay() {
    let (run, _) = played(&BURSTS);
    let shape = run.stats(false).read().expect("hits");
    let ground = level(&shape, -20.0);
    let mut worst = 0.0f64;
    for ms in [2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 100.0, 150.0, 200.0, 300.0f64] {
        let wanted = BURSTS.over_ground_db((ms - 10.0f64).max(0.0), ms);
        let got = level(&shape, ms) - ground;
        worst = worst.max((got - wanted).abs());
        // Half a quarter of a millisecond of doubt about the onset is 0.3 dB at 2 ms.
        let bar = if ms < 10.0 { 0.6 } else { 0.25 };
        assert!((got - wanted).abs() < bar, "{ms} ms: {got:.2} dB, wanted {wanted:.2} dB");
    }
    let slope = (level(&shape, 30.0) - level(&shape, 100.0)) / 70.0;
    let wanted = 4.342_944_8 / BURSTS.tau_ms;
    println!("worst level {worst:.2} dB off; decay {slope:.4} dB/ms, wanted {wanted:.4}");
    assert!((slope / wanted - 1.0).abs() < 0.04, "{slope:.4} dB/ms, wanted {wanted:.4}");
    // A burst that starts at once: within 3 dB from the first millisecond on.
    assert_eq!(shape.attack_ms, Some(1.0));
    // Height less the mean power from 80 to 250 ms, both in closed form.
    let space = BURSTS.over_ground_db(0.0, 10.0) - BURSTS.over_ground_db(80.0, 250.0);
    let got = shape.space_db.expect("known");
    println!("space behind {got:.2} dB, closed form {space:.2} dB");
    assert!((got - space).abs() < 0.3, "{got:.2} dB, wanted {space:.2} dB");
}

/// Neither the host's blocks nor the level matter.
#[test]
fn blocks_and_gain_change_nothing() {
    let (samples, _) = Bursts { count: 12, ..BURSTS }.render();
    let whole = run(&samples, None, samples.len());
    let small = run(&samples, None, 37);
    assert_eq!(whole.shapes, small.shapes);
    assert_eq!(whole.waves, small.waves);
    let quiet: Vec<f32> = samples.iter().map(|x| x * 0.125).collect();
    let quiet = run(&quiet, None, 512).stats(false).read().expect("hits");
    let loud = whole.stats(false).read().expect("hits");
    for point in 0..SHAPE_POINTS {
        let (a, b) = (loud.level[point].expect("known"), quiet.level[point].expect("known"));
        assert!((a.db - b.db).abs() < 0.06, "{point}: {a:?} {b:?}");
    }
}

/// A passage that ends behind a hit leaves what it does not hold unknown, not zero.
#[test]
fn what_the_passage_does_not_hold_is_unknown() {
    let bursts = Bursts { count: 1, ..BURSTS };
    let (samples, starts) = bursts.render();
    let cut = run(&samples[..starts[0] as usize + 4800], None, 512);
    assert_eq!(cut.shapes.len(), 1);
    let known = |ms: f64| {
        let point = (0..SHAPE_POINTS).find(|point| shape_ms(*point) == ms).expect("a point");
        cut.shapes[0].level_db(point).is_some()
    };
    assert!(known(-50.0) && known(95.0) && !known(110.0) && !known(300.0));
}

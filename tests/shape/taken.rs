//! Against the mix before the limiter, the shape shows what was taken, where, and by how much.

use brunt_engine::{HitsShape, SHAPE_POINTS, WAVE_BEFORE_MS, WAVE_RATIOS, shape_ms};

use crate::bursts::{Bursts, run};

const TAKEN_DB: f64 = -6.0;

/// Bursts, and the same with 6 dB taken from the first 20 ms of each: the difference of the two
/// shapes is that gain, there and nowhere else, and so is the level ratio under each hit.
#[test]
fn the_first_20_ms_are_seen_to_lack_6_db() {
    let bursts = Bursts { count: 40, tau_ms: 60.0, over_db: 30.0, apart: 28_800, seed: 3 };
    let (before, starts) = bursts.render();
    let mut main = before.clone();
    let gain = 10f32.powf(TAKEN_DB as f32 / 20.0);
    for &start in &starts {
        main[start as usize..][..960].iter_mut().for_each(|x| *x *= gain);
    }
    let run = run(&main, Some(&before), 512);
    let read = |side: bool| run.stats(side).read().expect("hits");
    let (shape, other) = (read(false), read(true));
    assert_eq!((shape.hits, other.hits), (40, 40));
    let difference = |of: fn(&HitsShape, usize) -> f64, ms: f64| {
        let point = (0..SHAPE_POINTS).find(|point| shape_ms(*point) == ms).expect("a point");
        of(&shape, point) - of(&other, point)
    };
    let level = |shape: &HitsShape, point: usize| shape.level[point].expect("known").db;
    let peak = |shape: &HitsShape, point: usize| shape.peak[point].expect("known").db;
    for ms in [3.0, 6.0, 10.0, 15.0, 19.0] {
        let (level, peak) = (difference(level, ms), difference(peak, ms));
        println!("{ms} ms: level {level:+.2} dB, peak {peak:+.2} dB");
        assert!((level - TAKEN_DB).abs() < 0.2, "{ms} ms: level {level:+.2} dB");
        // Peaks are in bins of 0.25 dB.
        assert!((peak - TAKEN_DB).abs() < 0.4, "{ms} ms: peak {peak:+.2} dB");
    }
    for ms in [-40.0, -10.0, 0.0, 40.0, 80.0, 200.0] {
        let level = difference(level, ms);
        assert!(level.abs() < 0.2, "{ms} ms: level {level:+.2} dB");
    }
    let height = |shape: &HitsShape| shape.height_db.expect("known");
    // The loudest 10 ms of the shaved bursts lie behind what was taken: from 20 ms on they fall by
    // 4.34 * 20 / 60 dB only.
    let lost = height(&shape) - height(&other);
    assert!((lost + 4.342_944_8 * 20.0 / 60.0).abs() < 0.3, "{lost:+.2} dB of height");

    let wave = run.waves.iter().rev().find(|wave| wave.side.is_some()).expect("with its partner");
    let ratios: Vec<f64> =
        (0..WAVE_RATIOS).map(|step| wave.ratio_db(step).expect("known")).collect();
    let first = WAVE_BEFORE_MS / 10;
    for (step, ratio) in ratios.iter().enumerate() {
        match step {
            // The steps lie on whole milliseconds, the onset anywhere in its own.
            _ if step == first => assert!((ratio - TAKEN_DB).abs() < 0.5, "{step}: {ratio}"),
            _ if step == first + 1 || step == first + 2 => {}
            _ => assert!(ratio.abs() < 0.1, "{step}: {ratio}"),
        }
    }
    let side = wave.side.expect("a partner");
    let largest = |wave: &brunt_engine::Wave, range: std::ops::Range<usize>| {
        range.map(|ms| wave.ends(ms)).fold(0.0f32, |most, (up, down)| most.max(up).max(-down))
    };
    let attack = WAVE_BEFORE_MS + 1..WAVE_BEFORE_MS + 19;
    let ratio = largest(&wave.main, attack.clone()) / largest(&side, attack);
    assert!((20.0 * ratio.log10() - TAKEN_DB as f32).abs() < 0.2, "{ratio}");
    let tail = 100..340;
    let ratio = largest(&wave.main, tail.clone()) / largest(&side, tail);
    assert!((20.0 * ratio.log10()).abs() < 0.5, "{ratio}");
}

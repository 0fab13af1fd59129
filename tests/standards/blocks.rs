//! The same samples in blocks of any size give the same readings, to the last bit.

use brunt_engine::{Config, Loudness, Meter};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// Bursts of noise over a bed, with a gap of silence.
fn programme(rate_hz: f64, seed: u64) -> [Vec<f32>; 2] {
    let mut random = Pcg64::seed_from_u64(seed);
    let frames = (rate_hz * 9.0) as usize;
    std::array::from_fn(|channel| {
        let mut low = 0.0_f32;
        (0..frames)
            .map(|n| {
                let time = n as f64 / rate_hz;
                let beat = (time * 2.5).fract() as f32;
                let gap = (4.0..4.7).contains(&time);
                low += 0.2 * (random.random_range(-1.0_f32..1.0) - low);
                let gain = 0.02 + 0.9 * (-12.0 * beat).exp();
                if gap { 0.0 } else { gain * low * (1.0 + 0.2 * channel as f32) }
            })
            .collect()
    })
}

fn measure(rate_hz: f64, main: &[Vec<f32>; 2], mut size: impl FnMut() -> usize) -> Loudness {
    let config = Config { sample_rate_hz: rate_hz, channels: 2 };
    let mut meter = Meter::new(config).expect("the rate is accepted");
    let frames = main[0].len();
    let mut from = 0;
    while from < frames {
        let to = frames.min(from + size());
        meter.process(&[&main[0][from..to], &main[1][from..to]], None, &mut ());
        from = to;
    }
    meter.finish(&mut ());
    meter.readings().loudness
}

#[test]
fn block_size_changes_no_bit() {
    // 11,025 Hz and 22,050 Hz have no whole number of frames in 10 ms.
    for rate_hz in [11_025.0, 22_050.0, 44_100.0, 48_000.0, 96_000.0] {
        let seed = 480 + rate_hz as u64;
        let main = programme(rate_hz, seed);
        let want = measure(rate_hz, &main, || usize::MAX / 2);
        for reading in [want.integrated_lufs, want.range_lu, want.psr_median_db, want.plr_db] {
            assert!(reading.is_some(), "the programme must fill every reading: {want:?}");
        }
        for size in [1, 7, 64, 480, 4_096] {
            assert_eq!(measure(rate_hz, &main, || size), want, "{rate_hz} Hz, blocks of {size}");
        }
        let mut random = Pcg64::seed_from_u64(seed);
        let got = measure(rate_hz, &main, || random.random_range(1..3_000));
        assert_eq!(got, want, "{rate_hz} Hz, random blocks, seed {seed}");
    }
}

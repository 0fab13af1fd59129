//! The same samples in blocks of any size give the same readings, to the last bit.

use brunt_engine::{Ahead, Config, Hit, Loudness, Meter};
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

/// All readings and hits of a programme in blocks of random length, with what every sample goes through
/// done by the meter itself, or ahead of it.
fn all(rate_hz: f64, main: &[&[f32]], ahead: bool) -> (String, Vec<Hit>) {
    let config = Config { sample_rate_hz: rate_hz, channels: main.len() };
    let mut random = Pcg64::seed_from_u64(5);
    let mut meter = Meter::new(config).expect("the rate is accepted");
    let mut before = Ahead::new(config).expect("the rate is accepted");
    let (mut hits, mut from) = (Vec::new(), 0);
    while from < main[0].len() {
        let to = main[0].len().min(from + random.random_range(0..3_000));
        let block: Vec<&[f32]> = main.iter().map(|channel| &channel[from..to]).collect();
        // The side-chain has nothing to do with it.
        let side = Some(&block[..]);
        if ahead {
            meter.process_prepared(&block, side, before.process(&block), &mut hits);
        } else {
            meter.process(&block, side, &mut hits);
        }
        from = to;
    }
    meter.finish(&mut hits);
    (format!("{:?}", meter.readings()), hits)
}

#[test]
fn what_is_prepared_on_another_thread_changes_no_bit() {
    for rate_hz in [8_000.0, 11_025.0, 44_100.0, 48_000.0, 192_000.0] {
        let [mut left, right] = programme(rate_hz, 7);
        left[(5.0 * rate_hz) as usize] = f32::NAN;
        for main in [&[&left[..], &right][..], &[&left[..]]] {
            let (readings, hits) = all(rate_hz, main, false);
            assert!(hits.len() > 10 && readings.contains("nan_samples: 1"), "{rate_hz} Hz");
            assert_eq!((readings, hits), all(rate_hz, main, true), "{rate_hz} Hz");
        }
    }
}

/// A meter that has had `had` frames gets a block of `frames`, of which 480 from the start were prepared.
fn mismatched(had: usize, frames: usize) {
    let config = Config { sample_rate_hz: 48_000.0, channels: 1 };
    let mut meter = Meter::new(config).expect("the rate is accepted");
    meter.process(&[&vec![0.0; had]], None, &mut ());
    let prepared = Ahead::new(config).expect("the rate is accepted").process(&[&[0.0; 480]]);
    meter.process_prepared(&[&vec![0.0; frames]], None, prepared, &mut ());
}

#[test]
#[should_panic(expected = "frames of the stream")]
fn a_block_of_another_length_is_refused() {
    mismatched(0, 96);
}

#[test]
#[should_panic(expected = "frames of the stream")]
fn a_block_of_another_place_is_refused() {
    mismatched(24, 480);
}

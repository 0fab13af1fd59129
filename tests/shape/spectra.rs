//! The hits' spectrum over their surroundings, against a closed form: decaying tones of 1 kHz over white
//! noise.

use brunt_engine::{BandStats, Config, HIT_BANDS, Hit, HitBands, Meter, Sink, hit_band_hz};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

use crate::bursts::{Bursts, RATE};

#[derive(Default)]
struct Keep {
    stats: BandStats,
    spectra: Vec<HitBands>,
    hits: usize,
}

impl Sink for Keep {
    fn hit(&mut self, _: &Hit) {
        self.hits += 1;
    }

    fn bands(&mut self, bands: &HitBands) {
        self.stats.add(bands);
        self.spectra.push(*bands);
    }
}

/// A song of many hits keeps the estimate of limiting busy throughout: every hit has a spectrum all the
/// same, with every band known but of the last, behind which nothing comes. Eight hits a second, on both
/// channels: twice as dense as the demo's song.
#[test]
fn every_hit_of_a_busy_song_has_its_spectrum() {
    let busy = Bursts { count: 300, tau_ms: 15.0, over_db: 27.0, apart: 6_000, seed: 11 };
    let (samples, _) = busy.render();
    let mut meter = Meter::new(Config { sample_rate_hz: RATE, channels: 2 }).expect("a good rate");
    let mut kept = Keep::default();
    for block in samples.chunks(512) {
        meter.process(&[block, block], None, &mut kept);
    }
    meter.finish(&mut kept);
    assert!(kept.hits > 280, "{} hits", kept.hits);
    assert_eq!(kept.spectra.len(), kept.hits, "a spectrum for every hit");
    let whole = |bands: &HitBands| (0..HIT_BANDS).all(|band| bands.over_db(band).is_some());
    assert!(kept.spectra[..kept.hits - 1].iter().all(whole), "bands were lost");
}

/// Half widths of the noise, amplitude of the tones, and the time in which their power falls by the
/// factor e, s.
const NOISE: f64 = 2e-3;
const TONE: f64 = 0.02;
const TAU_S: f64 = 0.06;

/// In the third octave of 1 kHz (base ten, IEC 61260-1: 230.8 Hz wide) the hits stand out by the power
/// of the tone in the frame over that of the noise in the band; far above it by nothing. The frame is
/// 2048 frames from 2 ms before the onset, its window a rise of 2 ms and a cosine over the second half.
/// Bars: 0.7 dB and 0.7 dB; the noise in one band of three frames leaves 0.5 dB to a hit, and a median over
/// 60 an eighth of it.
#[test]
fn hits_stand_out_where_their_tone_is() {
    let mut random = Pcg64Mcg::seed_from_u64(21);
    let mut starts = Vec::new();
    let mut at = RATE as usize;
    for _ in 0..60 {
        starts.push(at);
        at += random.random_range(28_800..33_600);
    }
    let mut samples: Vec<f32> =
        (0..at).map(|_| (NOISE * random.random_range(-1.0..1.0)) as f32).collect();
    for &start in &starts {
        let phase = random.random_range(0.0..std::f64::consts::TAU);
        for (k, x) in samples[start..].iter_mut().take(24_000).enumerate() {
            let s = k as f64 / RATE;
            let tone = (std::f64::consts::TAU * 1e3 * s + phase).sin();
            *x += (TONE * (-s / (2.0 * TAU_S)).exp() * tone) as f32;
        }
    }
    let mut meter = Meter::new(Config { sample_rate_hz: RATE, channels: 1 }).expect("a good rate");
    let mut kept = Keep::default();
    meter.process(&[&samples], None, &mut kept);
    meter.finish(&mut kept);
    assert_eq!(kept.stats.hits(), 60);

    let cosine = |part: f64| 0.5 - 0.5 * (std::f64::consts::PI * part.min(1.0)).cos();
    let window = |k: f64| (cosine((k + 0.5) / 96.0) * cosine((2047.5 - k) / 1024.0)).powi(2);
    // Mean power of the tone in a frame that begins `start_s` after the onset.
    let tone = |start_s: f64| {
        let (mut heard, mut whole) = (0.0, 0.0);
        for k in 0..2048 {
            let weight = window(f64::from(k));
            let s = f64::from(k) / RATE + start_s;
            whole += weight;
            heard += if s >= 0.0 { weight * (-s / TAU_S).exp() } else { 0.0 };
        }
        TONE * TONE / 2.0 * heard / whole
    };
    let width = 1e3 * (10f64.powf(0.05) - 10f64.powf(-0.05));
    let noise = NOISE * NOISE / 3.0 * width / (RATE / 2.0);
    // One of the two frames of the surroundings holds the tone's end, from 80 ms on.
    let around = noise + tone(0.08) / 2.0;
    let wanted = 10.0 * ((tone(-0.002) + noise) / around).log10();

    let read = kept.stats.read();
    let over = |hz: f64| {
        let band = (0..HIT_BANDS).find(|band| (hit_band_hz(*band) / hz - 1.0).abs() < 0.05);
        read[band.expect("a band")].expect("known").db
    };
    println!("1 kHz: {:.2} dB, closed form {wanted:.2} dB", over(1e3));
    assert!((over(1e3) - wanted).abs() < 0.7, "{:.2} dB, wanted {wanted:.2} dB", over(1e3));
    for hz in [8e3, 10e3, 12.5e3, 16e3] {
        println!("{hz} Hz: {:+.2} dB", over(hz));
        assert!(over(hz).abs() < 0.7, "{hz} Hz: {:+.2} dB", over(hz));
    }
}

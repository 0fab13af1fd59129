//! Third-octave levels against IEC 61260-1 and closed forms, from 25 Hz to 16 kHz.

use brunt_engine::{Config, Meter, SideRole};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Bands that are judged: 25 Hz to 16 kHz, of the 30 that end at 20 kHz.
const BANDS: usize = 29;
const RATES_HZ: [f64; 3] = [44_100.0, 48_000.0, 96_000.0];

/// Exact mid-band frequency of band `index`, Hz, base ten: IEC 61260-1:2014 as `python-acoustics` has it
/// (`acoustics.standards.iec_61260_1_2014.exact_center_frequency`).
fn middle_hz(index: usize) -> f64 {
    1_000.0 * 10f64.powf((index as f64 - 16.0) / 10.0)
}

/// Limits of the relative attenuation, dB, of a class 1 octave filter at `octaves` from the middle:
/// IEC 61260-1:2014, Table 1, as public programs that implement it have it. Three of them agree on every
/// line, among them `bands.jl` of thefirecode/Acoustics.jl (which leaves the band's edge out).
const CLASS_1: [(f64, f64, f64); 9] = [
    (0.0, -0.4, 0.4),
    (0.125, -0.4, 0.5),
    (0.25, -0.4, 0.7),
    (0.375, -0.4, 1.4),
    (0.499_999, -0.4, 5.3),
    (0.5, 1.2, f64::INFINITY),
    (1.0, 16.6, f64::INFINITY),
    (2.0, 40.5, f64::INFINITY),
    (3.0, 60.0, f64::INFINITY),
];
/// The same from four octaves on.
const FAR: (f64, f64) = (4.0, 70.0);

/// Limits at `hz` of the third-octave band around `middle`: the octave's frequencies are drawn
/// together by the standard's formula for fractions of an octave (`fractional_octave` in the same
/// program), and limits between the table's lines follow straight lines over the logarithm of frequency.
fn limits(hz: f64, middle: f64) -> (f64, f64) {
    let g: f64 = 10f64.powf(0.3);
    let third =
        |octaves: f64| 1.0 + (g.powf(1.0 / 6.0) - 1.0) / (g.sqrt() - 1.0) * (g.powf(octaves) - 1.0);
    let x = if hz > middle { hz / middle } else { middle / hz };
    if x >= third(FAR.0) {
        return (FAR.1, f64::INFINITY);
    }
    let above = CLASS_1.iter().position(|line| third(line.0) > x).unwrap_or(CLASS_1.len());
    let low = CLASS_1[above - 1];
    let high = CLASS_1.get(above).copied().unwrap_or((FAR.0, FAR.1, f64::INFINITY));
    let part = (x / third(low.0)).ln() / (third(high.0) / third(low.0)).ln();
    let most = if low.2.is_finite() && high.2.is_finite() {
        low.2 + part * (high.2 - low.2)
    } else {
        high.2
    };
    (low.1 + part * (high.1 - low.1), most)
}

/// Third-octave levels, dB, of mono samples.
fn levels(rate_hz: f64, samples: &[f32]) -> Vec<Option<f64>> {
    let mut meter = Meter::new(Config { sample_rate_hz: rate_hz, channels: 1 })
        .expect("rates and channels of the standards are accepted");
    for block in samples.chunks(480) {
        meter.process(&[block], None, &mut ());
    }
    meter.finish(&mut ());
    meter.readings().balance.thirds_dbfs.to_vec()
}

fn tone(rate_hz: f64, hz: f64, seconds: f64, fade_s: f64) -> Vec<f32> {
    (0..(seconds * rate_hz) as usize)
        .map(|i| {
            let t = i as f64 / rate_hz;
            let fade = if t < fade_s { 0.5 - 0.5 * (0.5 * TAU * t / fade_s).cos() } else { 1.0 };
            (0.5 * fade * (TAU * hz * t).sin()) as f32
        })
        .collect()
}

fn mean_square_db(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (sum / samples.len() as f64).log10()
}

/// A steady tone in the middle of a band reads its own level there: 10 log10(0.5^2 / 2) = -9.03
/// dB (closed form), within 0.3 dB after 5 s.
#[test]
fn tones_read_their_own_level() {
    for rate_hz in RATES_HZ {
        (0..BANDS).into_par_iter().for_each(|index| {
            let hz = middle_hz(index);
            let got = levels(rate_hz, &tone(rate_hz, hz, 5.0, 0.0))[index].expect("heard");
            let want = 10.0 * 0.125f64.log10();
            assert!((got - want).abs() < 0.3, "{rate_hz} Hz, tone of {hz:.1} Hz: {got:.3} dB");
        });
    }
}

/// Every band keeps the class 1 limits of IEC 61260-1 for tones from 15 Hz to 20 kHz, a
/// twenty-fourth of an octave apart and so on both sides of every edge. Tones are faded in: the
/// limits are for the steady state.
#[test]
fn bands_keep_the_limits_of_class_1() {
    for rate_hz in [44_100.0, 48_000.0] {
        let tones: Vec<f64> =
            (0..).map(|i| 15.0 * 2f64.powf(f64::from(i) / 24.0)).take_while(|f| *f < 2e4).collect();
        let worst = tones
            .par_iter()
            .map(|&hz| {
                let samples = tone(rate_hz, hz, 10.0, 1.0);
                let level = mean_square_db(&samples);
                let got = levels(rate_hz, &samples);
                (0..BANDS)
                    .map(|index| {
                        let attenuation = level - got[index].unwrap_or(f64::NEG_INFINITY);
                        let (least, most) = limits(hz, middle_hz(index));
                        let room = (attenuation - least).min(most - attenuation);
                        (room, hz, middle_hz(index), attenuation, least, most)
                    })
                    .min_by(|a, b| a.0.total_cmp(&b.0))
                    .expect("some bands")
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .expect("some tones");
        println!("{rate_hz} Hz: least room {worst:.3?}");
        assert!(worst.0 >= 0.0, "(room, tone, band, attenuation, least, most): {worst:.3?}");
    }
}

/// A reference on the side-chain, half as large as the main, reads 20 log10(2) = 6.02 dB less in
/// every band (closed form), and nothing while the side-chain is no reference; the mix before the limiter
/// likewise.
#[test]
fn the_other_version_is_measured_beside_the_main() {
    let rate_hz = 48_000.0;
    let main = pink(rate_hz, 8.0);
    let side: Vec<f32> = main.iter().map(|x| 0.5 * x).collect();
    for role in [SideRole::Reference, SideRole::Before, SideRole::Partner] {
        let config = Config { sample_rate_hz: rate_hz, channels: 2 };
        let mut meter = Meter::new(config).expect("a good rate");
        meter.set_side_role(role);
        for (x, y) in main.chunks(480).zip(side.chunks(480)) {
            meter.process(&[x, x], Some(&[y, y]), &mut ());
        }
        let balance = meter.readings().balance;
        for index in 0..BANDS {
            let own = balance.thirds_dbfs[index];
            for (of, other) in [
                (SideRole::Reference, balance.reference_thirds_dbfs[index]),
                (SideRole::Before, balance.before_thirds_dbfs[index]),
            ] {
                assert_eq!(other.is_some(), of == role, "{of:?} of {role:?}");
                if let Some(over) = own.zip(other).map(|(own, other)| own - other) {
                    assert!((over - 2f64.log10() * 20.0).abs() < 1e-3, "{index}: {over}");
                }
            }
        }
    }
}

/// Pink noise has the same level in every third octave (closed form), within 0.3 dB after 60 s.
#[test]
fn pink_noise_is_flat() {
    let rate_hz = 48_000.0;
    let samples = pink(rate_hz, 60.0);
    let got = levels(rate_hz, &samples);
    let bands: Vec<f64> = got[..BANDS].iter().map(|db| db.expect("heard")).collect();
    let mean = bands.iter().sum::<f64>() / BANDS as f64;
    for (index, db) in bands.iter().enumerate() {
        println!("{:8.1} Hz {:+.3} dB", middle_hz(index), db - mean);
    }
    for (index, db) in bands.iter().enumerate() {
        assert!((db - mean).abs() < 0.3, "{:.1} Hz: {:+.3} dB", middle_hz(index), db - mean);
    }
}

/// Pink noise with a power of exactly one over f in every hertz: the sum of tones 1 Hz apart is too
/// dear, so it is a Fourier series with the period of the whole programme, made by the inverse
/// transform.
fn pink(rate_hz: f64, seconds: f64) -> Vec<f32> {
    let n = (rate_hz * seconds) as usize;
    let mut random = Pcg64Mcg::seed_from_u64(61_260);
    let (_, plan) = brunt_transforms::real_f64(n);
    let mut spectrum = plan.make_input_vec();
    let last = spectrum.len() - 1;
    for (bin, x) in spectrum.iter_mut().enumerate().take(last).skip(1) {
        let hz = bin as f64 / seconds;
        if (15.0..23_000.0).contains(&hz) {
            let phase = random.random_range(0.0..TAU);
            *x = brunt_transforms::num_complex::Complex::from_polar(hz.powf(-0.5), phase);
        }
    }
    let mut out = plan.make_output_vec();
    plan.process(&mut spectrum, &mut out).expect("vectors of the plan");
    let peak = out.iter().fold(0.0f64, |m, x| m.max(x.abs()));
    out.iter().map(|x| (0.5 * x / peak) as f32).collect()
}

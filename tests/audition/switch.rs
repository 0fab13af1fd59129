//! The switch: how large a step it adds, how long it takes, and that nothing is touched when off.

use brunt::audition::{Heard, Wish};

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

use crate::rig::{RATE_HZ, Rig, cut, limited, song, wish};

const SECOND: usize = 48_000;
/// -60 dBFS, the bar of the design.
const BAR: f64 = 1e-3;
/// Longest switch, frames: 20 ms.
const LONGEST: usize = 960;

fn steps(channel: &[f32]) -> f64 {
    channel.windows(2).map(|w| f64::from((w[1] - w[0]).abs())).fold(0.0, f64::max)
}

fn constant(level: f32, frames: usize) -> Vec<Vec<f32>> {
    vec![vec![level; frames]; 2]
}

/// Two constant signals have no step of their own, so every step is the switch's. At equal power
/// the largest is pi/2 over the length times the root of both squares (closed form): 816 frames
/// keep it under -60 dBFS for signals up to 0.52 together; at full scale no equal-power switch of
/// 20 ms can, whose 960 frames give -53 dBFS.
#[test]
fn between_still_signals_the_steps_are_under_minus_60_dbfs() {
    let cases = [(0.25, -0.1), (0.2, -0.2), (0.3, 0.3), (0.0, 0.36), (0.36, 0.0), (1.0, -0.9)];
    for (mix, side) in cases {
        let mut rig = Rig::new(333);
        let (mix, side) = (constant(mix, SECOND), constant(side, SECOND));
        rig.play(&mix, &side, None, wish(Heard::Mix));
        let level = |heard| match heard {
            Heard::Mix => mix[0][0],
            Heard::Side => side[0][0],
            Heard::Difference => side[0][0] - mix[0][0],
        };
        let mut last = Heard::Mix;
        for heard in [Heard::Side, Heard::Difference, Heard::Side, Heard::Mix, Heard::Difference] {
            let together = f64::from(level(last)).hypot(f64::from(level(heard)));
            let got = steps(&rig.play(&mix, &side, None, wish(heard))[0]);
            let law = std::f64::consts::FRAC_PI_2 / 816.0 * together;
            println!("{:?} to {heard:?}: {:.1} dBFS", last, 20.0 * got.log10());
            // The guard bends a difference over its ceiling a little more.
            let most = if together <= 0.52 { BAR } else { law * 1.3 };
            assert!(got <= most, "{last:?} to {heard:?}: {got}, together {together}");
            last = heard;
        }
    }
}

/// Music has steps of its own: the switch may add no more than the bar to the largest that the
/// two signals make together.
#[test]
fn between_two_versions_of_a_song_the_steps_are_the_songs_own() {
    for seed in 0..4 {
        let before = limited(&song(8.0, 30 + seed), -6.0, 1.0);
        let mix = limited(&before, 4.0, 0.3);
        let mut rig = Rig::new(64);
        rig.play(&mix, &before, Some(0), wish(Heard::Mix));
        for at in (0..7).map(|k| k * SECOND) {
            let heard = if (at / SECOND).is_multiple_of(2) { Heard::Side } else { Heard::Mix };
            let part = |c: &[Vec<f32>]| cut(c, at, at + SECOND);
            let out = rig.play(&part(&mix), &part(&before), Some(at as i64), wish(heard));
            let gain = 10_f64.powf(rig.status().gain_db.expect("matched") / 20.0);
            let own =
                steps(&mix[0][at..at + LONGEST]).max(gain * steps(&before[0][at..at + LONGEST]));
            let got = steps(&out[0][..LONGEST]);
            // Equal power can add two unrelated steps of one size to 1.41 of it.
            assert!(got <= own * std::f64::consts::SQRT_2 + BAR, "{got} over {own}");
        }
    }
}

#[test]
fn it_is_over_in_20_ms_and_then_the_mix_is_the_mix_bit_for_bit() {
    for rate_hz in [8_000.0, 44_100.0, 48_000.0, 192_000.0] {
        let longest = (rate_hz * 0.02) as usize;
        let mut audition = brunt::audition::Audition::new(rate_hz, 2);
        let frames = 4 * longest;
        let mix = vec![vec![f32::from_bits(0x7fc0_1234); frames]; 2];
        let side = constant(0.25, frames);
        let mut play = |heard: Heard| {
            let mut out = mix.clone();
            for at in (0..frames).step_by(37) {
                let end = frames.min(at + 37);
                let side: Vec<&[f32]> = side.iter().map(|c| &c[at..end]).collect();
                let mut out: Vec<&mut [f32]> = out.iter_mut().map(|c| &mut c[at..end]).collect();
                audition.process(&mut out, Some(&side), &wish(heard));
            }
            out
        };
        let same = |out: &[Vec<f32>], from: usize| {
            out.iter().all(|c| c[from..].iter().all(|x| x.to_bits() == 0x7fc0_1234))
        };
        assert!(same(&play(Heard::Mix), 0), "{rate_hz}: off from the start");
        let on = play(Heard::Side);
        assert!((on[0][longest] - 0.25).abs() < 1e-6, "{rate_hz}: {}", on[0][longest]);
        assert!(same(&play(Heard::Mix), longest + 37), "{rate_hz}: off again");
        assert!(same(&play(Heard::Mix), 0), "{rate_hz}: and stays off");
    }
}

#[test]
fn equal_power_holds_the_level_of_two_versions_and_of_two_songs() {
    // Low-passed noise, so that 1.2 ms of look-ahead leave two versions alike.
    let noise = |seed| -> Vec<Vec<f32>> {
        let mut random = Pcg64::seed_from_u64(seed);
        (0..2)
            .map(|_| {
                let mut y = [0.0_f32; 2];
                let mut next = || {
                    y[0] += 0.02 * (random.random_range(-1.0..1.0) - y[0]);
                    y[1] += 0.02 * (y[0] - y[1]);
                    10.0 * y[1]
                };
                (0..4 * SECOND).map(|_| next()).collect()
            })
            .collect()
    };
    let power = |sum: &[f64]| sum.iter().sum::<f64>() / sum.len() as f64;
    let one = noise(70);
    for (other, what) in [(one.clone(), "the same"), (noise(71), "another")] {
        // Many switches, from one to the other and back, in turn; the power in their middles.
        let mut rig = Rig::new(256);
        rig.play(&one, &other, None, wish(Heard::Mix));
        let (mut got, mut aimed) = (Vec::new(), Vec::new());
        for k in 0..60 {
            let (from, to) = (k * 3_000, (k + 1) * 3_000);
            let heard = if k % 2 == 0 { Heard::Side } else { Heard::Mix };
            let (a, b) = (cut(&one, from, to), cut(&other, from, to));
            let out = rig.play(&a, &b, None, wish(heard));
            for n in 300..620 {
                got.push(f64::from(out[0][n]).powi(2));
                aimed.push(0.5 * (f64::from(a[0][n]).powi(2) + f64::from(b[0][n]).powi(2)));
            }
        }
        let error = 10.0 * (power(&got) / power(&aimed)).log10();
        println!("{what}: {error:+.2} dB");
        assert!(error.abs() < 1.0, "{what}: {error:+.2} dB");
    }
}

#[test]
fn without_a_side_chain_the_mix_comes_back() {
    let mut rig = Rig::new(256);
    let (mix, side) = (constant(0.1, SECOND), constant(0.3, SECOND));
    rig.play(&mix, &side, None, wish(Heard::Side));
    let mut out = mix.clone();
    {
        let mut parts: Vec<&mut [f32]> = out.iter_mut().map(Vec::as_mut_slice).collect();
        rig.audition.process(&mut parts, None, &wish(Heard::Side));
    }
    assert!(out[0][LONGEST..].iter().all(|x| *x == 0.1));
    assert!(!rig.audition.is_on());
}

#[test]
fn stopping_is_immediate() {
    let mut rig = Rig::new(256);
    let (mix, side) = (constant(0.1, SECOND), constant(0.3, SECOND));
    rig.play(&mix, &side, None, wish(Heard::Side));
    rig.audition.stop();
    let out = rig.play(&mix, &side, None, wish(Heard::Mix));
    assert_eq!(out, mix);
}

/// A side-chain that comes early waits for the mix; the mix never waits.
#[test]
fn an_early_side_chain_is_delayed() {
    let late = 1_234;
    let mut rig = Rig::new(100);
    let mut mix = constant(0.0, SECOND);
    let mut side = constant(0.0, SECOND);
    side[0][20_000] = 0.5;
    mix[0][20_000 + late] = 0.5;
    let wish = Wish { heard: Heard::Side, mix_after_side: Some(late as f64) };
    let out = rig.play(&mix, &side, None, wish);
    let found = out[0].iter().position(|x| *x > 0.4).expect("heard");
    // The guard looks 1 ms and ten frames ahead.
    assert_eq!(found, 20_000 + late + (RATE_HZ / 1e3) as usize + 10);
}

//! Equalisers: shelves, a bell, an all-pass, a band. Second order, bilinear, by R.
//! Bristow-Johnson's "Cookbook formulae for audio EQ biquad filter coefficients"; checked by their
//! gains in `tests/drums`.

use crate::corpus::Stereo;
use crate::corpus::amp::Biquad;

/// Low shelf of slope 1 with its midpoint at `hz`.
#[must_use]
pub fn low_shelf(input: &Stereo, hz: f64, gain_db: f64) -> Stereo {
    filtered(input, &[shelf(f64::from(input.rate), hz, gain_db, 1.0)])
}

/// High shelf of slope 1 with its midpoint at `hz`.
#[must_use]
pub fn high_shelf(input: &Stereo, hz: f64, gain_db: f64) -> Stereo {
    filtered(input, &[shelf(f64::from(input.rate), hz, gain_db, -1.0)])
}

/// What a scooped mix has: a wide dip near 700 Hz of that depth.
#[must_use]
pub fn dip(input: &Stereo, depth_db: f64) -> Stereo {
    bell(input, 700.0, 0.7, -depth_db)
}

/// What a mix with boosted extremes has: shelves near 60 Hz and 12 kHz.
#[must_use]
pub fn shelves(input: &Stereo, gain_db: f64) -> Stereo {
    high_shelf(&low_shelf(input, 60.0, gain_db), 12_000.0, gain_db)
}

/// A tilt, dB an octave, as shelves an octave apart from 31 Hz to 16 kHz.
#[must_use]
pub fn tilt(input: &Stereo, db_per_octave: f64) -> Stereo {
    (0..10).fold(input.clone(), |audio, octave| {
        high_shelf(&audio, 31.25 * 2f64.powi(octave), db_per_octave)
    })
}

/// Bell with quality `q`.
#[must_use]
pub fn bell(input: &Stereo, hz: f64, q: f64, gain_db: f64) -> Stereo {
    let a = 10_f64.powf(gain_db / 40.0);
    let w = std::f64::consts::TAU * hz / f64::from(input.rate);
    let alpha = w.sin() / (2.0 * q);
    let a0 = 1.0 + alpha / a;
    let b = [(1.0 + alpha * a) / a0, -2.0 * w.cos() / a0, (1.0 - alpha * a) / a0];
    filtered(input, &[Biquad::with(b, [-2.0 * w.cos() / a0, (1.0 - alpha / a) / a0])])
}

/// All-pass of second order at `hz` with quality `q`: turns phases and changes no level.
#[must_use]
pub fn all_pass(input: &Stereo, hz: f64, q: f64) -> Stereo {
    let w = std::f64::consts::TAU * hz / f64::from(input.rate);
    let alpha = w.sin() / (2.0 * q);
    let [a1, a2] = [-2.0 * w.cos() / (1.0 + alpha), (1.0 - alpha) / (1.0 + alpha)];
    filtered(input, &[Biquad::with([a2, a1, 1.0], [a1, a2])])
}

/// What is between `low_hz` and `high_hz`: Butterworth, second order at each end.
#[must_use]
pub fn band(input: &Stereo, low_hz: f64, high_hz: f64) -> Stereo {
    let rate = f64::from(input.rate);
    filtered(input, &[Biquad::high_pass(low_hz, rate), Biquad::low_pass(high_hz, rate)])
}

/// What is below `hz`: Butterworth, second order.
#[must_use]
pub fn low_pass(input: &Stereo, hz: f64) -> Stereo {
    filtered(input, &[Biquad::low_pass(hz, f64::from(input.rate))])
}

/// `side` is +1 for a low shelf and -1 for a high one: the two differ by the sign of the cosine.
fn shelf(rate: f64, hz: f64, gain_db: f64, side: f64) -> Biquad {
    let a = 10_f64.powf(gain_db / 40.0);
    let w = std::f64::consts::TAU * hz / rate;
    let cos = side * w.cos();
    let root = 2.0 * a.sqrt() * w.sin() / std::f64::consts::SQRT_2;
    let a0 = (a + 1.0) + (a - 1.0) * cos + root;
    let b = [
        a * ((a + 1.0) - (a - 1.0) * cos + root) / a0,
        side * 2.0 * a * ((a - 1.0) - (a + 1.0) * cos) / a0,
        a * ((a + 1.0) - (a - 1.0) * cos - root) / a0,
    ];
    let a = [
        side * -2.0 * ((a - 1.0) + (a + 1.0) * cos) / a0,
        ((a + 1.0) + (a - 1.0) * cos - root) / a0,
    ];
    Biquad::with(b, a)
}

fn filtered(input: &Stereo, stages: &[Biquad]) -> Stereo {
    let mut out = input.clone();
    for channel in [&mut out.left, &mut out.right] {
        for stage in stages {
            let mut stage = *stage;
            channel.iter_mut().for_each(|x| *x = stage.run(*x));
        }
    }
    out
}

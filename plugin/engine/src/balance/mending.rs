//! The mids given back: the change of tone that the mids' cost assumes, as a filter for audio.
//!
//! The filter is of minimum phase, as an equaliser of the trade is: nothing sounds ahead of a hit. Its
//! response comes from the logarithm of its magnitude by way of the cepstrum, folded to what is causal:
//! the method that the documents of `scipy.signal.minimum_phase` call homomorphic.

use brunt_transforms::num_complex::Complex;

use super::changes::{Change, Changes};
use crate::Mids;
use crate::spectrum::THIRDS;

/// Length of the response, s. Ours: a first-order shelf near 60 Hz has died away by 60 dB in 20 ms, a
/// deep one an octave lower in a tenth of a second.
const RESPONSE_S: f64 = 0.17;

/// A change of tone that gives a mix its mids back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mending {
    change: Change,
    size_db: f64,
}

impl Mids {
    /// The change of tone that [`Mids::cost`] assumes: against the reference where one was compared,
    /// else against the middle one of finished records. `None` while the mids are unknown, and where
    /// nothing would change.
    #[must_use]
    pub fn mending(&self) -> Option<Mending> {
        let (change, size_db) = Change::of(self)?;
        (size_db > 0.0).then_some(Mending { change, size_db })
    }
}

/// K-weighted level from 200 Hz to 4 kHz, what small speakers reproduce up to the end of the mids,
/// over that of the whole, dB: for third octaves as in [`Balance::thirds_dbfs`](crate::Balance). Two
/// versions at one loudness differ there by the difference of these: see [`Mids::carry_db`]. `None` of
/// silence.
#[must_use]
pub fn carried_db(thirds_dbfs: &[Option<f64>; THIRDS]) -> Option<f64> {
    let powers = thirds_dbfs.map(|db| db.map_or(0.0, |db| 10f64.powf(db / 10.0)));
    let db = Changes::new().carried_db(&powers);
    db.is_finite().then_some(db)
}

impl Mending {
    /// Size of what is taken out, dB: the depth of the dip, or the gain of both shelves.
    #[must_use]
    pub fn size_db(&self) -> f64 {
        self.size_db
    }

    /// Whether a dip near 700 Hz is filled; shelves near 60 Hz and 12 kHz are taken down otherwise.
    #[must_use]
    pub fn fills_dip(&self) -> bool {
        self.change == Change::Dip
    }

    /// Gain of the change at a frequency, dB.
    #[must_use]
    pub fn gain_db(&self, hz: f64) -> f64 {
        -self.size_db * self.change.db(hz)
    }

    /// Planes with the change, one a channel, at `rate_hz`; as long as they came. Allocates.
    #[must_use]
    pub fn audio(&self, planes: &[Vec<f32>], rate_hz: f64) -> Vec<Vec<f32>> {
        let response = self.response(rate_hz);
        planes.iter().map(|plane| filtered(plane, &response)).collect()
    }

    /// The filter's response to an impulse, of minimum phase.
    fn response(&self, rate_hz: f64) -> Vec<f64> {
        let taps = (RESPONSE_S * rate_hz) as usize;
        // Four times the response: what folds over in the cepstrum has died away.
        let size = (4 * taps).next_power_of_two().max(64);
        let (ahead, back) = brunt_transforms::real_f64(size);
        let mut spectrum = ahead.make_output_vec();
        for (bin, value) in spectrum.iter_mut().enumerate() {
            // The lowest bin stands for what lies under it: the shelves have long levelled out there.
            let hz = (bin.max(1) as f64) * rate_hz / size as f64;
            *value = Complex::new(self.gain_db(hz) * std::f64::consts::LN_10 / 20.0, 0.0);
        }
        let mut cepstrum = vec![0.0; size];
        // Lengths are those that the plans gave.
        let _ = back.process(&mut spectrum, &mut cepstrum);
        for (n, value) in cepstrum.iter_mut().enumerate() {
            let fold = match n {
                0 => 1.0,
                n if n == size / 2 => 1.0,
                n if n < size / 2 => 2.0,
                _ => 0.0,
            };
            *value *= fold / size as f64;
        }
        let _ = ahead.process(&mut cepstrum, &mut spectrum);
        spectrum.iter_mut().for_each(|value| *value = value.exp());
        // Both are real in a real response.
        for end in [0, size / 2] {
            spectrum[end].im = 0.0;
        }
        let mut response = vec![0.0; size];
        let _ = back.process(&mut spectrum, &mut response);
        response.truncate(taps.max(1));
        let fade = response.len() / 4;
        let start = response.len() - fade;
        for (n, value) in response.iter_mut().enumerate() {
            let share = n.saturating_sub(start) as f64 / fade.max(1) as f64;
            *value *= (0.5 + 0.5 * (std::f64::consts::PI * share).cos()) / size as f64;
        }
        response
    }
}

/// A plane through a filter, by one transform of the whole.
fn filtered(plane: &[f32], response: &[f64]) -> Vec<f32> {
    let size = (plane.len() + response.len()).next_power_of_two();
    let (ahead, back) = brunt_transforms::real_f64(size);
    let spectrum = |samples: &mut dyn Iterator<Item = f64>| {
        let mut padded: Vec<f64> = samples.collect();
        padded.resize(size, 0.0);
        let mut spectrum = ahead.make_output_vec();
        let _ = ahead.process(&mut padded, &mut spectrum);
        spectrum
    };
    let mut product = spectrum(&mut plane.iter().map(|x| f64::from(*x)));
    let filter = spectrum(&mut response.iter().copied());
    for (value, filter) in product.iter_mut().zip(&filter) {
        *value *= filter / size as f64;
    }
    for end in [0, size / 2] {
        product[end].im = 0.0;
    }
    let mut out = vec![0.0; size];
    let _ = back.process(&mut product, &mut out);
    out[..plane.len()].iter().map(|x| *x as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a steady tone comes out with the gain at its frequency.
    #[test]
    fn tones_get_the_gain_of_the_change() {
        for (change, size_db) in [(Change::Dip, 6.0), (Change::Shelves, 5.0)] {
            let mending = Mending { change, size_db };
            for rate in [44_100.0, 48_000.0, 96_000.0] {
                for hz in [40.0, 63.0, 200.0, 700.0, 2_000.0, 12_000.0, 16_000.0] {
                    let tone = |n: usize| (std::f64::consts::TAU * hz * n as f64 / rate).sin();
                    let plane: Vec<f32> = (0..rate as usize).map(|n| tone(n) as f32).collect();
                    let out = &mending.audio(std::slice::from_ref(&plane), rate)[0];
                    let power = |x: &[f32]| -> f64 {
                        x[x.len() / 2..].iter().map(|x| f64::from(x * x)).sum()
                    };
                    let db = 10.0 * (power(out) / power(&plane)).log10();
                    let want = mending.gain_db(hz);
                    assert!((db - want).abs() < 0.1, "{change:?} {rate} {hz}: {db} for {want}");
                }
            }
        }
    }

    /// Minimum phase: most of the response's energy comes at once, and nothing before it.
    #[test]
    fn nothing_sounds_ahead_of_a_hit() {
        let mending = Mending { change: Change::Shelves, size_db: 6.0 };
        let mut plane = vec![0.0; 48_000];
        plane[24_000] = 1.0;
        let out = &mending.audio(&[plane], 48_000.0)[0];
        let ahead = out[..24_000].iter().fold(0.0f32, |most, x| most.max(x.abs()));
        let peak = out.iter().fold(0.0f32, |most, x| most.max(x.abs()));
        assert!(ahead < 1e-5 * peak, "{ahead} of {peak}");
        let energy = |x: &[f32]| x.iter().map(|x| f64::from(x * x)).sum::<f64>();
        assert!(energy(&out[24_000..24_048]) > 0.8 * energy(out));
    }

    /// Closed form: equal powers at 1 kHz and 50 Hz, of which the one is carried but for the filters'
    /// skirts and the other is not; K-weighted, +0 and -3.4 dB or so.
    #[test]
    fn small_speakers_carry_the_mids() {
        let thirds = |hz: &[f64]| -> [Option<f64>; THIRDS] {
            std::array::from_fn(|n| {
                hz.iter().any(|hz| (crate::third_hz(n) / hz).log2().abs() < 0.1).then_some(-20.0)
            })
        };
        let alone = carried_db(&thirds(&[1_000.0])).expect("sound");
        assert!((-0.1..0.0).contains(&alone), "{alone}");
        let low = carried_db(&thirds(&[50.0])).expect("sound");
        assert!(low < -20.0, "{low}");
        let both = carried_db(&thirds(&[1_000.0, 50.0])).expect("sound");
        assert!((-2.2..-1.2).contains(&both), "{both}");
        assert_eq!(carried_db(&[None; THIRDS]), None);
    }

    #[test]
    fn what_is_not_known_mends_nothing() {
        assert_eq!(Mids::default().mending(), None);
    }
}

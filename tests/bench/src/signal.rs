//! Something like a song, made in place: struck noise and tones over a bed. Its sound does not
//! matter, only that there are hits to measure and peaks to interpolate.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Two planes of one length.
pub struct Planes([Vec<f32>; 2]);

impl Planes {
    pub fn frames(&self) -> usize {
        self.0[0].len()
    }

    pub fn part(&self, from: usize, to: usize) -> [&[f32]; 2] {
        [&self.0[0][from..to], &self.0[1][from..to]]
    }
}

/// Eight hits a second, low and high in turn, over three tones and noise.
pub fn song(rate: u32, seconds: f64) -> Planes {
    let mut rng = Pcg64Mcg::seed_from_u64(1);
    let rate = f64::from(rate);
    let frames = (seconds * rate) as usize;
    let tau = std::f64::consts::TAU;
    let mut low = 0.0f64;
    let planes = [0.0, 0.3].map(|offset| {
        (0..frames)
            .map(|frame| {
                let t = frame as f64 / rate;
                let since = t % 0.125;
                let noise = rng.random_range(-1.0..1.0);
                low += 0.1 * (noise - low);
                let struck = if t % 0.25 < 0.125 {
                    (tau * 60.0 * t).sin() * (-since / 0.06).exp()
                } else {
                    0.7 * noise * (-since / 0.04).exp()
                };
                let tones: f64 = [110.0, 165.0, 440.0]
                    .iter()
                    .map(|hz| 0.05 * (tau * hz * t + offset).sin())
                    .sum();
                (0.6 * struck + tones + 0.1 * low) as f32
            })
            .collect()
    });
    Planes(planes)
}

/// The same, driven 6 dB into a soft clipper.
pub fn limited(song: &Planes) -> Planes {
    Planes([0, 1].map(|c| song.0[c].iter().map(|x| 0.6 * (2.0 * x / 0.6).tanh()).collect()))
}

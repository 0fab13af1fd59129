//! How loud each part lies in the mix: faders and pans by least squares.
//!
//! Parts are bounced ahead of or behind the faders, in mono or stereo, at any level; the mix alone
//! knows what became of them. Mix and parts are K-weighted, so that a bass does not decide alone, and
//! compared over blocks spread through the song.

use crate::kweighting::KWeighting;

/// Length of a block, frames. Ours.
const BLOCK: usize = 2_048;
/// Most frames that are compared. Ours: 11 s at 48 kHz, hundreds of strokes; a fader takes a few
/// thousand frames to be known to a percent.
const FRAMES_MOST: usize = 1 << 19;
/// Weight of the assumption that a part lies in the mix as it came, as a share of its own power:
/// decides only where two parts are one. Ours.
const RIDGE: f64 = 1e-4;
/// Least share of the mix's power that the parts explain for it to be made of them. Ours: drums and
/// one guitar bus of a full mix explain half or more.
const EXPLAINED: f64 = 0.25;
/// Least gain of a part that sounds. Ours: 34 dB under its file it is in no mix.
const LEAST_GAIN: f64 = 0.02;
/// Share of the mix's power under which a part as it came is silent. Ours: -60 dB.
const SILENT_SHARE: f64 = 1e-6;
/// Frames of a piece whose power is read. Ours: 11 ms at 48 kHz, as a hit's level.
const PIECE: usize = 512;
/// Share of a side of the mix under which a piece weighs no more for being quiet. Ours: -20 dB.
const QUIET_SHARE: f64 = 0.01;
/// Sweeps over the parts in which their wide shares settle. Ours: twenty parts settle in fifty.
const SWEEPS: usize = 200;
/// Most of a wide share, as a multiple of what the fader brings into the mix. Ours: a mono downmix of
/// two sides that are nothing alike leaves out as much as it holds.
const WIDE_MOST: f64 = 2.0;

/// Gain of each channel of a part in left and right of the mix, linear: `gain[channel][side]`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Fader {
    /// See there.
    pub gain: [[f32; 2]; 2],
}

impl Fader {
    /// A part that lies in the mix as it came.
    #[must_use]
    pub fn unity(channels: usize) -> Self {
        match channels {
            1 => Self { gain: [[1.0, 1.0], [0.0, 0.0]] },
            _ => Self { gain: [[1.0, 0.0], [0.0, 1.0]] },
        }
    }

    /// Adds `gain` times a part to left and right.
    pub fn add(&self, part: &[Vec<f32>], gain: f32, to: &mut [Vec<f32>; 2]) {
        for (channel, plane) in part.iter().take(2).enumerate() {
            for (side, to) in to.iter_mut().enumerate() {
                let gain = gain * self.gain[channel][side];
                if gain != 0.0 {
                    to.iter_mut().zip(plane).for_each(|(to, x)| *to += gain * x);
                }
            }
        }
    }
}

/// How the parts lie in a mix.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Lie {
    /// See [`Fader`].
    pub(super) faders: Vec<Fader>,
    /// Power that each part has in the mix besides, as a multiple of its own: what no fader can make of
    /// it, such as the sides of a layer that was bounced in mono, or its reverb.
    pub(super) wide: Vec<f32>,
}

/// A fit that parts are added to one by one.
pub(super) struct Fit {
    rate_hz: f64,
    /// Frames between the starts of two blocks.
    step: usize,
    frames: usize,
    mix: [Vec<f32>; 2],
    /// A column a channel of a part, and which part it is.
    columns: Vec<(usize, Vec<f32>)>,
    channels: Vec<usize>,
}

impl Fit {
    pub(super) fn new(rate_hz: f64, mix: &[Vec<f32>; 2]) -> Self {
        let frames = mix[0].len();
        let blocks = (FRAMES_MOST / BLOCK).min(frames.div_ceil(BLOCK)).max(1);
        let step = (frames / blocks).max(BLOCK);
        let mut fit = Self {
            rate_hz,
            step,
            frames,
            mix: [Vec::new(), Vec::new()],
            columns: Vec::new(),
            channels: Vec::new(),
        };
        fit.mix = [fit.blocks(&mix[0]), fit.blocks(&mix[1])];
        fit
    }

    /// Adds the next part.
    pub(super) fn add(&mut self, planes: &[Vec<f32>]) {
        let part = self.channels.len();
        self.channels.push(planes.len());
        for plane in planes.iter().take(2) {
            let column = self.blocks(plane);
            self.columns.push((part, column));
        }
    }

    /// The blocks of a plane, K-weighted, one behind the other.
    fn blocks(&self, plane: &[f32]) -> Vec<f32> {
        let mut weighted = plane.to_vec();
        weighted.resize(self.frames, 0.0);
        KWeighting::new(self.rate_hz).weigh(&mut weighted);
        weighted.chunks(self.step).flat_map(|chunk| chunk.iter().take(BLOCK)).copied().collect()
    }

    /// The faders and what they cannot make; `None` where the mix is not made of the parts.
    pub(super) fn solve(&self) -> Option<Lie> {
        let count = self.columns.len();
        let mut products = vec![vec![0.0f64; count]; count];
        for a in 0..count {
            for b in a..count {
                products[a][b] = dot(&self.columns[a].1, &self.columns[b].1);
                products[b][a] = products[a][b];
            }
        }
        let whole: f64 = self.mix.iter().map(|side| dot(side, side)).sum();
        let mut faders: Vec<Fader> = vec![Fader::default(); self.channels.len()];
        let mut explained = 0.0;
        for (side, mix) in self.mix.iter().enumerate() {
            let mut matrix = products.clone();
            let mut right = vec![0.0; count];
            let crossed: Vec<f64> =
                self.columns.iter().map(|(_, column)| dot(column, mix)).collect();
            for (n, (part, _)) in self.columns.iter().enumerate() {
                let assumed = Fader::unity(self.channels[*part]).gain[self.channel(n)][side];
                // A silent part keeps the gain that it is assumed to have.
                let ridge = RIDGE * products[n][n] + 1e-9 * whole.max(1e-12);
                matrix[n][n] += ridge;
                right[n] = crossed[n] + ridge * f64::from(assumed);
            }
            let gains = solved(matrix, right)?;
            for (n, (part, _)) in self.columns.iter().enumerate() {
                faders[*part].gain[self.channel(n)][side] = gains[n] as f32;
                explained += gains[n] * crossed[n];
            }
        }
        let sounds = |n: usize| products[n][n] > SILENT_SHARE * whole;
        let there = |part: usize| {
            let gains = faders[part].gain.as_flattened();
            gains.iter().any(|gain| f64::from(gain.abs()) >= LEAST_GAIN)
        };
        let all = (0..count).filter(|&n| sounds(n)).all(|n| there(self.columns[n].0));
        (whole > 0.0 && explained >= EXPLAINED * whole && all).then(|| {
            let wide = self.wide(&faders);
            Lie { faders, wide }
        })
    }

    /// What the parts have in the mix besides their faders' sum: the powers of the rest, piece by piece,
    /// as a sum of the parts' powers, none of them negative, by least squares of the share of the mix.
    fn wide(&self, faders: &[Fader]) -> Vec<f32> {
        let parts = faders.len();
        let power = |plane: &[f32]| -> Vec<f64> {
            plane.chunks(PIECE).map(|piece| dot(piece, piece)).collect()
        };
        let add = |to: &mut Vec<f64>, of: Vec<f64>| {
            to.resize(to.len().max(of.len()), 0.0);
            to.iter_mut().zip(of).for_each(|(to, of)| *to += of);
        };
        let mut own = vec![Vec::new(); parts];
        for (part, column) in &self.columns {
            add(&mut own[*part], power(column));
        }
        let (mut rest, mut whole) = (Vec::new(), Vec::new());
        for (side, mix) in self.mix.iter().enumerate() {
            let mut left = mix.clone();
            for (n, (part, column)) in self.columns.iter().enumerate() {
                let gain = faders[*part].gain[self.channel(n)][side];
                left.iter_mut().zip(column).for_each(|(left, x)| *left -= gain * x);
            }
            add(&mut rest, power(&left));
            add(&mut whole, power(mix));
        }
        let quiet = QUIET_SHARE * whole.iter().sum::<f64>() / whole.len().max(1) as f64;
        let weights: Vec<f64> =
            whole.iter().map(|whole| (whole + quiet).max(f64::MIN_POSITIVE).powi(-2)).collect();
        let product = |a: &[f64], b: &[f64]| -> f64 {
            a.iter().zip(b).zip(&weights).map(|((a, b), weight)| a * b * weight).sum()
        };
        let mut wide = vec![0.0f64; parts];
        let products: Vec<Vec<f64>> =
            own.iter().map(|a| own.iter().map(|b| product(a, b)).collect()).collect();
        let wanted: Vec<f64> = own.iter().map(|own| product(own, &rest)).collect();
        for _ in 0..SWEEPS {
            for part in 0..parts {
                let others: f64 =
                    (0..parts).filter(|&k| k != part).map(|k| products[part][k] * wide[k]).sum();
                if products[part][part] > 0.0 {
                    wide[part] = ((wanted[part] - others) / products[part][part]).max(0.0);
                }
            }
        }
        let most = |fader: &Fader| {
            let gains = fader.gain.as_flattened();
            WIDE_MOST * gains.iter().map(|gain| f64::from(*gain).powi(2)).sum::<f64>()
        };
        wide.iter().zip(faders).map(|(wide, fader)| wide.min(most(fader)) as f32).collect()
    }

    /// Channel of its part that a column is.
    fn channel(&self, column: usize) -> usize {
        usize::from(column > 0 && self.columns[column - 1].0 == self.columns[column].0)
    }
}

fn dot(a: &[f32], b: &[f32]) -> f64 {
    // In runs of f32, which are good to one in a million, and these in f64.
    let chunks = a.chunks(64).zip(b.chunks(64));
    chunks.map(|(a, b)| f64::from(a.iter().zip(b).map(|(a, b)| a * b).sum::<f32>())).sum()
}

/// Solves a symmetric system by elimination with pivots; `None` where it has no one solution.
fn solved(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let count = right.len();
    for n in 0..count {
        let pivot =
            (n..count).max_by(|&a, &b| matrix[a][n].abs().total_cmp(&matrix[b][n].abs()))?;
        matrix.swap(n, pivot);
        right.swap(n, pivot);
        if matrix[n][n].abs() < 1e-300 {
            return None;
        }
        for row in n + 1..count {
            let share = matrix[row][n] / matrix[n][n];
            if share != 0.0 {
                let (top, bottom) = matrix.split_at_mut(row);
                bottom[0].iter_mut().zip(&top[n]).skip(n).for_each(|(x, y)| *x -= share * y);
                right[row] -= share * right[n];
            }
        }
    }
    for n in (0..count).rev() {
        let known: f64 = (n + 1..count).map(|k| matrix[n][k] * right[k]).sum();
        right[n] = (right[n] - known) / matrix[n][n];
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::noise::noise;

    fn sum(of: &[(&[f32], f32)]) -> Vec<f32> {
        (0..of[0].0.len()).map(|n| of.iter().map(|(x, gain)| gain * x[n]).sum()).collect()
    }

    /// A mono part panned, a stereo one turned down, and something that is no part.
    #[test]
    fn faders_and_pans_are_found() {
        let parts: Vec<Vec<f32>> = (1..5).map(|seed| noise(200_000, seed)).collect();
        let [a, b, c, other] = &parts[..] else { panic!("four") };
        let mix =
            [sum(&[(a, 0.95), (b, 0.5), (other, 0.6)]), sum(&[(a, 0.25), (c, 0.5), (other, 0.6)])];
        let mut fit = Fit::new(48_000.0, &mix);
        fit.add(std::slice::from_ref(a));
        fit.add(&[b.clone(), c.clone()]);
        let Lie { faders, wide } = fit.solve().expect("made of them");
        // What is no part is as loud all the time, and so is every part: it may be either of them, but
        // no more than there is: 0.6 squared on both sides, where the mono part has 1 and the other 2.
        let shared_out = wide[0] + 2.0 * wide[1];
        assert!((shared_out - 0.72).abs() < 0.05, "{wide:?}");
        let want = [[[0.95, 0.25], [0.0, 0.0]], [[0.5, 0.0], [0.0, 0.5]]];
        for (fader, want) in faders.iter().zip(want) {
            for (got, want) in fader.gain.as_flattened().iter().zip(want.as_flattened()) {
                assert!((got - want).abs() < 0.01, "{got} of {want}");
            }
        }
    }

    #[test]
    fn a_mix_of_other_parts_is_told() {
        let mix = [noise(100_000, 9), noise(100_000, 10)];
        let mut fit = Fit::new(48_000.0, &mix);
        fit.add(&[noise(100_000, 11)]);
        assert_eq!(fit.solve(), None);
        // Two channels that are one: each has a half, as it came.
        let one = noise(100_000, 12);
        let mut fit = Fit::new(48_000.0, &[one.clone(), one.clone()]);
        fit.add(&[one.clone(), one]);
        let lie = fit.solve().expect("made of it");
        let gain = lie.faders[0].gain;
        assert!((gain[0][0] + gain[1][0] - 1.0).abs() < 1e-3, "{gain:?}");
        assert!(lie.wide[0] < 1e-4, "{:?}", lie.wide);
    }

    /// Closed form: a mono downmix of two sides that are nothing alike has half the power of each; its
    /// fader of 1 makes half of both, and as much is left over: twice its own power. The drums, which are
    /// in the mix as they came, leave nothing.
    #[test]
    fn what_a_downmix_leaves_out_is_found() {
        let (left, right) = (noise(200_000, 3), noise(200_000, 4));
        let gate =
            |n: usize, every: usize| if (n / 6_000).is_multiple_of(every) { 1.0 } else { 0.05 };
        let layer: Vec<Vec<f32>> = [&left, &right]
            .map(|side| side.iter().enumerate().map(|(n, x)| x * gate(n + 3_000, 3)).collect())
            .to_vec();
        let drums: Vec<f32> =
            noise(200_000, 5).iter().enumerate().map(|(n, x)| x * gate(n, 4)).collect();
        let mono = sum(&[(&layer[0], 0.5), (&layer[1], 0.5)]);
        let mix = [0, 1].map(|side: usize| sum(&[(&layer[side], 1.0), (&drums, 1.0)]));
        let mut fit = Fit::new(48_000.0, &mix);
        fit.add(std::slice::from_ref(&mono));
        fit.add(std::slice::from_ref(&drums));
        let lie = fit.solve().expect("made of them");
        assert!((lie.wide[0] - 2.0).abs() < 0.1 && lie.wide[1] < 0.05, "{:?}", lie.wide);
    }
}

//! How loud each part lies in the mix: faders and pans by least squares.
//!
//! Parts are bounced ahead of or behind the faders, in mono or stereo, at any level; the mix alone
//! knows what became of them. Mix and parts are K-weighted, so that a bass does not decide alone, and
//! compared over blocks spread through the song.

use super::Fader;
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

    /// The faders; `None` where the mix is not made of the parts.
    pub(super) fn solve(&self) -> Option<Vec<Fader>> {
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
        (whole > 0.0 && explained >= EXPLAINED * whole && all).then_some(faders)
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

    fn noise(frames: usize, mut state: u32) -> Vec<f32> {
        (0..frames)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 8) as f32 / (1_u32 << 23) as f32 - 1.0
            })
            .collect()
    }

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
        let faders = fit.solve().expect("made of them");
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
        let gain = fit.solve().expect("made of it")[0].gain;
        assert!((gain[0][0] + gain[1][0] - 1.0).abs() < 1e-3, "{gain:?}");
    }
}

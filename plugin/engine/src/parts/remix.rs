//! The mix as it would be with a cause taken out: what a cost is re-measured on.
//!
//! The parts' audio is there, so nothing has to be assumed about how their sounds add up: a part
//! changed in its audio takes the place of the part in the mix, and the hits of both mixes are
//! measured in the same way at the same places. The mix is the one that was given, with the
//! difference of the changed part added as loud as the part lies in it ([`faders`]); where it is not
//! made of these parts, their sum stands for it.
//!
//! A cost is the median over the hits of what each gains, since hit contrast is a median over hits:
//! it says what the figure at the top of a report would gain. Its range is that of a bootstrap over
//! the hits. Allocates; for files, not for the audio thread.

mod costs;
mod faders;

pub use costs::{Undone, measure};
pub use faders::Fader;

use std::sync::Arc;

use crate::kweighting::KWeighting;
use crate::parts::{HitGain, gain, sum};
use crate::surround;

/// Audio, a plane a channel, one or two, all of one length.
pub type Planes = Vec<Vec<f32>>;
/// Some audio, left and right, and the gain with which it goes into a sum, linear.
type Term<'a> = (&'a [Vec<f32>; 2], f32);

/// A mix that parts can be changed in.
#[derive(Clone, Debug)]
pub struct Remix {
    rate_hz: f64,
    cell_frames: usize,
    /// The mix, left and right.
    mix: [Vec<f32>; 2],
    /// How loud each part lies in it.
    faders: Vec<Fader>,
    /// What each part brings besides, as a multiple of its own power; empty for nothing.
    wide: Vec<f32>,
    /// Whether the sum of the parts stands for the mix.
    is_sum: bool,
    /// Strokes that end what surrounds a hit, cells, in order of time.
    strokes: Vec<u64>,
    /// The hits among them, by number.
    hits: Vec<usize>,
    /// Contrast of each hit in the mix, dB.
    contrasts_db: Vec<f64>,
}

/// A change of a mix.
#[derive(Clone, Debug, Default)]
pub struct Change {
    /// What is added to the mix, left and right, as long as it.
    pub audio: [Vec<f32>; 2],
    /// How the power of each cell changes besides, from [`Remix::rest`]; empty for not at all.
    pub rest: Vec<f32>,
}

impl Change {
    /// Adds another change.
    fn add(&mut self, other: &Self) {
        self.audio.iter_mut().zip(&other.audio).for_each(|(to, audio)| add(to, audio));
        add(&mut self.rest, &other.rest);
    }
}

impl Remix {
    /// A mix of `planes` at `rate_hz`, of which parts with these `faders` are a part. `strokes`: every
    /// stroke that ends what surrounds a hit, frames, in order of time; `hits`: numbers of those that
    /// count. Cells are of `cell_frames`, as the tracks of the parts have them.
    #[must_use]
    pub fn new(
        rate_hz: f64,
        cell_frames: usize,
        planes: &[Vec<f32>],
        (strokes, hits): (&[u64], Vec<usize>),
    ) -> Self {
        let cell_frames = cell_frames.max(1);
        let strokes: Vec<u64> = strokes.iter().map(|frame| frame / cell_frames as u64).collect();
        let mut remix = Self {
            rate_hz,
            cell_frames,
            mix: both_sides(planes),
            faders: Vec::new(),
            wide: Vec::new(),
            is_sum: false,
            hits,
            strokes,
            contrasts_db: Vec::new(),
        };
        remix.contrasts_db = remix.contrasts(&remix.mix);
        remix
    }

    /// Finds how loud the parts lie in the mix: `load` gives the audio of each of `count`. Where the
    /// mix is not made of them, their sum takes its place.
    ///
    /// # Errors
    /// What `load` gives.
    pub fn find_faders<E>(
        &mut self,
        count: usize,
        load: &mut dyn FnMut(usize) -> Result<Arc<Planes>, E>,
    ) -> Result<(), E> {
        let mut fit = faders::Fit::new(self.rate_hz, &self.mix);
        for part in 0..count {
            fit.add(&load(part)?);
        }
        if let Some(lie) = fit.solve() {
            (self.faders, self.wide) = (lie.faders, lie.wide);
            return Ok(());
        }
        let frames = self.mix[0].len();
        let mut sum = [vec![0.0; frames], vec![0.0; frames]];
        self.faders.clear();
        for part in 0..count {
            let planes = load(part)?;
            let fader = Fader::unity(planes.len());
            fader.add(&planes, 1.0, &mut sum);
            self.faders.push(fader);
        }
        self.mix = sum;
        self.is_sum = true;
        self.contrasts_db = self.contrasts(&self.mix);
        Ok(())
    }

    /// Whether the sum of the parts stands for the mix.
    #[must_use]
    pub fn is_sum(&self) -> bool {
        self.is_sum
    }

    /// The mix, left and right; the sum of the parts where that stands for it.
    #[must_use]
    pub fn mix(&self) -> &[Vec<f32>; 2] {
        &self.mix
    }

    /// How loud each part lies in the mix.
    #[must_use]
    pub fn faders(&self) -> &[Fader] {
        &self.faders
    }

    /// Sample rate, Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// A change of nothing: what others are added to.
    #[must_use]
    pub fn unchanged(&self) -> Change {
        Change { audio: self.silence(), rest: Vec::new() }
    }

    /// Silence as long as the mix, left and right.
    fn silence(&self) -> [Vec<f32>; 2] {
        let frames = self.mix[0].len();
        [vec![0.0; frames], vec![0.0; frames]]
    }

    /// Contrast of each hit in the mix, dB, in order of time.
    #[must_use]
    pub fn contrasts_db(&self) -> &[f64] {
        &self.contrasts_db
    }

    /// What each hit gains by a change of the mix, dB of contrast; negative where it loses.
    #[must_use]
    pub fn gains_db(&self, change: &Change) -> Vec<f64> {
        self.gains_with((&change.audio, 1.0), &change.rest)
    }

    /// The same of audio that is added at some gain, and what changes besides.
    fn gains_with(&self, change: Term<'_>, rest: &[f32]) -> Vec<f64> {
        let mut cells = self.sum_cells(&[(&self.mix, 1.0), change]);
        add_rest(&mut cells, rest);
        let after = self.contrasts_of(&cells);
        after.iter().zip(&self.contrasts_db).map(|(after, before)| after - before).collect()
    }

    /// K-weighted power of a sum as long as the mix, a value a cell. Cell by cell: a sum of a whole song
    /// would be memory that is only read once.
    fn sum_cells(&self, terms: &[Term<'_>]) -> Vec<f32> {
        let frames = self.mix[0].len();
        let mut weighting = [(); 2].map(|()| KWeighting::new(self.rate_hz));
        let mut sums = [(); 2].map(|()| Vec::with_capacity(self.cell_frames));
        let mut cells = Vec::with_capacity(frames / self.cell_frames + 1);
        for from in (0..frames).step_by(self.cell_frames) {
            let to = (from + self.cell_frames).min(frames);
            for (side, sum) in sums.iter_mut().enumerate() {
                sum.clear();
                sum.resize(to - from, 0.0);
                for (audio, gain) in terms {
                    let audio = &audio[side][from..to];
                    sum.iter_mut().zip(audio).for_each(|(sum, x)| *sum += gain * x);
                }
            }
            cells.push(weigh_cell(&mut weighting, &[&sums[0], &sums[1]], cells.len()));
        }
        cells
    }

    /// Adds to `rest` how the power of the mix's cells changes besides what faders make of a part, when
    /// `after` takes the place of `before`: the sides of a layer that was bounced in mono go with it.
    /// `after` of nothing is silence.
    pub fn rest(&self, part: usize, before: &[Vec<f32>], after: &[Vec<f32>], rest: &mut Vec<f32>) {
        let wide = self.wide.get(part).copied().unwrap_or(0.0);
        if wide == 0.0 {
            return;
        }
        let cells = |planes: &[Vec<f32>]| weighted_cells(planes, self.rate_hz, self.cell_frames);
        for (sign, cells) in [(-wide, cells(before)), (wide, cells(after))] {
            rest.resize(rest.len().max(cells.len()), 0.0);
            rest.iter_mut().zip(cells).for_each(|(rest, power)| *rest += sign * power);
        }
    }

    /// The same for parts that only move in time, the sum of which, as it lies in the mix, is `moved`.
    /// Which way the low ends of two parts add up at a hit hangs on fractions of a millisecond, less
    /// than an onset is located to: so both ways are measured, the moved parts as they are and with
    /// their polarity turned, before and after, and powers are averaged.
    #[must_use]
    pub fn moved_gains_db(
        &self,
        moved: &[Vec<f32>; 2],
        Change { audio, rest }: &Change,
    ) -> Vec<f64> {
        let (mix, turned) = ((&self.mix, 1.0), (moved, -2.0));
        let both = |one: &[Term<'_>], other: &[Term<'_>], rest: &[f32]| -> Vec<f64> {
            let (one, other) = (self.sum_cells(one), self.sum_cells(other));
            let mut mean: Vec<f32> = one.iter().zip(&other).map(|(a, b)| 0.5 * (a + b)).collect();
            add_rest(&mut mean, rest);
            self.contrasts_of(&mean)
        };
        let before = both(&[mix], &[mix, turned], &[]);
        let after = both(&[mix, (audio, 1.0)], &[mix, turned, (audio, -1.0)], rest);
        after.iter().zip(&before).map(|(after, before)| after - before).collect()
    }

    /// Contrast of each hit in some planes, dB, as far as it stands out at all.
    fn contrasts(&self, planes: &[Vec<f32>; 2]) -> Vec<f64> {
        self.contrasts_of(&weighted_cells(planes, self.rate_hz, self.cell_frames))
    }

    /// The same of K-weighted powers, a value a cell.
    fn contrasts_of(&self, cells: &[f32]) -> Vec<f64> {
        sum::left_db(cells, &self.strokes, &self.hits)
    }

    /// What each hit gains, at its time: `gains_db` is from [`Self::gains_db`].
    #[must_use]
    pub fn gains_at(&self, gains_db: Vec<f64>) -> Vec<HitGain> {
        gain::gains(self.hit_times_s(), gains_db)
    }

    /// Time of each hit, s.
    pub fn hit_times_s(&self) -> impl Iterator<Item = f64> + '_ {
        let cell_s = self.cell_frames as f64 / self.rate_hz;
        self.hits.iter().map(move |&hit| self.strokes[hit] as f64 * cell_s)
    }
}

/// Least share of a cell's power that stays when the rest of a part goes. Ours: what goes is known to some
/// decibels, and a cell is never silent for it.
const REST_LEAST: f32 = 0.05;

/// Changes the power of cells by `rest`.
fn add_rest(cells: &mut [f32], rest: &[f32]) {
    for (cell, rest) in cells.iter_mut().zip(rest) {
        *cell = (*cell + rest).max(REST_LEAST * *cell);
    }
}

/// Adds up samples, or changes of cells' powers.
fn add(to: &mut Vec<f32>, change: &[f32]) {
    to.resize(to.len().max(change.len()), 0.0);
    to.iter_mut().zip(change).for_each(|(to, change)| *to += change);
}

/// Left and right of one or two planes.
fn both_sides(planes: &[Vec<f32>]) -> [Vec<f32>; 2] {
    match planes {
        [] => [Vec::new(), Vec::new()],
        [mono] => [mono.clone(), mono.clone()],
        [left, right, ..] => [left.clone(), right.clone()],
    }
}

/// K-weighted power of planes, a value a cell, summed over channels (BS.1770-5): as a part's
/// [`PartCell::weighted`](crate::parts::PartCell::weighted).
#[must_use]
pub fn weighted_cells(planes: &[Vec<f32>], rate_hz: f64, cell_frames: usize) -> Vec<f32> {
    let frames = planes.iter().map(Vec::len).min().unwrap_or(0);
    let mut weighting: Vec<KWeighting> = planes.iter().map(|_| KWeighting::new(rate_hz)).collect();
    let mut cells = Vec::with_capacity(frames / cell_frames + 1);
    for from in (0..frames).step_by(cell_frames) {
        let to = (from + cell_frames).min(frames);
        let cell: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
        cells.push(weigh_cell(&mut weighting, &cell, cells.len()));
    }
    cells
}

/// K-weighted power of the cell numbered `number`, a slice a channel.
fn weigh_cell(weighting: &mut [KWeighting], cell: &[&[f32]], number: usize) -> f32 {
    if let ([left, right], [l, r]) = (&mut *weighting, cell) {
        KWeighting::process_pair(left, right, [l, r]);
    } else {
        for (weighting, plane) in weighting.iter_mut().zip(cell) {
            weighting.process(plane);
        }
    }
    let energy: f64 = weighting.iter_mut().map(KWeighting::take_energy).sum();
    if (number + 1).is_multiple_of(10) {
        weighting.iter_mut().for_each(KWeighting::flush_denormals);
    }
    let frames = cell.first().map_or(1, |plane| plane.len());
    (energy / frames as f64) as f32
}

/// Level of the loudest 10 ms from each cell of `from` to 30 ms behind `to`, dB.
#[must_use]
pub fn levels_db(cells: &[f32], spans: &[(u64, u64)]) -> Vec<f64> {
    spans
        .iter()
        .map(|&(from, to)| {
            let most = (from..=to.max(from))
                .step_by(10)
                .map(|start| surround::level(cells, start).0)
                .fold(0.0, f64::max);
            10.0 * most.max(1e-12).log10()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;
    use crate::noise::noise;

    const RATE_HZ: f64 = 48_000.0;

    /// Bursts of 20 ms of noise, two a second, over a bed of it.
    fn bursts(seed: u64, bed: f32) -> Vec<f32> {
        let on = |n: usize| n >= 12_000 && n % 24_000 < 960;
        let noise = noise(240_000, seed);
        noise.iter().enumerate().map(|(n, x)| x * if on(n) { 0.3 } else { bed }).collect()
    }

    fn remix(mix: &[Vec<f32>], parts: &[Arc<Planes>]) -> Remix {
        let strokes: Vec<u64> = (1..10).map(|n| n * 24_000).collect();
        let hits = (0..strokes.len()).collect();
        let mut remix = Remix::new(RATE_HZ, 48, mix, (&strokes, hits));
        let load = &mut |part: usize| Ok::<_, Infallible>(parts[part].clone());
        remix.find_faders(parts.len(), load).expect("they load");
        remix
    }

    /// A mix that is made of its parts stays, at the faders that it was made with; of one that is made of
    /// something else the parts' sum takes the place, and hits are measured in that.
    #[test]
    fn parts_that_make_no_mix_are_summed() {
        let (drums, pad) = (bursts(1, 0.001), noise(240_000, 2));
        let pad: Vec<f32> = pad.iter().map(|x| 0.02 * x).collect();
        let parts = [Arc::new(vec![drums.clone()]), Arc::new(vec![pad.clone()])];
        let sum =
            |drum: f32| -> Vec<f32> { drums.iter().zip(&pad).map(|(a, b)| drum * a + b).collect() };
        let its_own = remix(&[sum(0.5)], &parts);
        assert!(!its_own.is_sum());
        for side in 0..2 {
            let gain = its_own.faders()[0].gain[0][side];
            assert!((gain - 0.5).abs() < 1e-3, "{gain}");
        }
        let other = remix(&[bursts(3, 0.01)], &parts);
        assert!(other.is_sum());
        assert_eq!(*other.mix(), [sum(1.0), sum(1.0)]);
        // The same as of a mix at unity, 6 dB of drums more than in the other.
        assert_eq!(other.contrasts_db(), remix(&[sum(1.0)], &parts).contrasts_db());
        let more: Vec<f64> =
            other.contrasts_db().iter().zip(its_own.contrasts_db()).map(|(a, b)| a - b).collect();
        assert!(more.len() == 9 && more.iter().all(|db| (4.5..6.1).contains(db)), "{more:?}");
    }
}

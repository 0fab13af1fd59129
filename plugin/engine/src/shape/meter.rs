//! Shapes and waveforms of hits as they come, a piece at a time.

use super::{
    HitShape, HitWave, TIMES_MS, Turn, UNKNOWN, WAVE_BEFORE_MS, WAVE_MS, WAVE_RATIOS, Wave,
    hundredths, window,
};
use crate::Sink;
use crate::cells::{Cells, MICRO};
use crate::hits::MeasuredHit;
use crate::loudness::lufs;
use crate::thresholds::shape as t;

/// Hits that can wait for what follows them: 350 ms and the side-chain's half a second hold 34 at
/// one in 25 ms.
const WAITING: usize = 64;
/// Points worked out in one piece. Ours: about as much as any other piece of heavy work.
const PIECE: usize = 12;
/// Milliseconds after which a shape that could be worked on goes before other heavy work. Ours: the
/// memory of a second lasts for 400 ms more, in which the pieces of more than 20 hits are done.
const LATE_MS: u64 = 200;
/// Pieces of the points.
const PIECES: usize = TIMES_MS.len().div_ceil(PIECE);

/// A hit whose shape is still to be worked out.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Waiting {
    /// Its number, and the frame of its onset.
    pub(crate) hit: u64,
    pub(crate) frame: u64,
    /// Micro-cell of its onset.
    pub(crate) micro: u64,
    /// K-weighted power of what surrounds it.
    pub(crate) bed: f64,
}

impl Waiting {
    /// `bed`: power of what surrounds the hit, in the stream whose shape it is.
    pub(crate) fn of(measured: &MeasuredHit, bed: f64) -> Self {
        let MeasuredHit { hit, micro, .. } = measured;
        Self { hit: hit.index, frame: hit.frame, micro: *micro, bed }
    }
}

/// Works out the shapes of the hits of one stream, in order of time.
#[derive(Debug)]
pub(crate) struct ShapeMeter {
    side: bool,
    waiting: [Waiting; WAITING],
    first: u64,
    last: u64,
    /// Pieces done of the first.
    done: usize,
    shape: HitShape,
    wave: HitWave,
}

impl ShapeMeter {
    /// `side`: whether the stream is the side-chain.
    pub(crate) fn new(side: bool) -> Self {
        Self {
            side,
            waiting: [Waiting::default(); WAITING],
            first: 0,
            last: 0,
            done: 0,
            shape: HitShape::default(),
            wave: HitWave::default(),
        }
    }

    /// Takes a hit. Where too many wait it is left out.
    pub(crate) fn add(&mut self, hit: Waiting) {
        if self.last - self.first < WAITING as u64 && hit.bed > 0.0 {
            self.waiting[(self.last % WAITING as u64) as usize] = hit;
            self.last += 1;
        }
    }

    /// Whether a hit's shape is to be worked on.
    pub(crate) fn has_work(&self, cells: &Cells, turn: Turn) -> bool {
        let after = match turn {
            Turn::End => return !self.is_empty(),
            Turn::Free => 0,
            Turn::Late => LATE_MS,
        };
        self.next().is_some_and(|hit| cells.count() > hit.micro / MICRO as u64 + last_ms() + after)
    }

    /// Whether no hit waits.
    fn is_empty(&self) -> bool {
        self.first == self.last
    }

    /// Does a piece of the work on the first hit that waits; gives its shape after the last. What
    /// `cells` do not hold stays unknown. `beside`: the main's cells, where this is the side-chain
    /// of the same programme; the waveform then shows both.
    #[inline(never)]
    pub(crate) fn work(&mut self, cells: &Cells, beside: Option<&Cells>, sink: &mut dyn Sink) {
        let Some(&hit) = self.next() else { return };
        if self.done < PIECES {
            let from = self.done * PIECE;
            for point in from..(from + PIECE).min(TIMES_MS.len()) {
                (self.shape.level[point], self.shape.peak[point]) =
                    point_of(cells, &hit, TIMES_MS[point]);
            }
        } else if self.done == PIECES {
            let main = beside.unwrap_or(cells);
            self.wave.main = wave(main, hit.micro);
            self.wave.side = None;
        } else {
            if let Some(main) = beside {
                self.wave.side = Some(wave(cells, hit.micro));
                self.wave.ratio = ratios(main, cells, hit.micro);
            }
            self.shape.hit = hit.hit;
            self.shape.frame = hit.frame;
            self.shape.side = self.side;
            self.wave.hit = hit.hit;
            sink.shape(&self.shape);
            // A reference has hits of its own, and no waveform beside the main's.
            if !self.side || beside.is_some() {
                sink.wave(&self.wave);
            }
            self.first += 1;
            self.done = 0;
            return;
        }
        self.done += 1;
    }

    /// Works out all that wait with what is there, for the end of a programme.
    pub(crate) fn finish(&mut self, cells: &Cells, beside: Option<&Cells>, sink: &mut dyn Sink) {
        while !self.is_empty() {
            self.work(cells, beside, sink);
        }
    }

    fn next(&self) -> Option<&Waiting> {
        (self.first < self.last).then(|| &self.waiting[(self.first % WAITING as u64) as usize])
    }

    pub(crate) fn reset(&mut self) {
        *self = Self::new(self.side);
    }
}

/// Last millisecond of a shape after its onset.
fn last_ms() -> u64 {
    TIMES_MS[TIMES_MS.len() - 1] as u64
}

/// Level and peak at a time, hundredths of dB over the hit's surroundings.
fn point_of(cells: &Cells, hit: &Waiting, time_ms: i32) -> (i16, i16) {
    let (from_ms, to_ms) = window(time_ms);
    let micro = |ms: i32| hit.micro as i64 + i64::from(ms) * MICRO as i64;
    let (from, to) = (micro(from_ms), micro(to_ms));
    if from < (cells.oldest() * MICRO as u64) as i64 || to > (cells.count() * MICRO as u64) as i64 {
        return (UNKNOWN, UNKNOWN);
    }
    let (from, to) = (from as u64, to as u64);
    let power = mean_power(cells, from, to);
    let level = 10.0 * (power / hit.bed).log10();
    // Peaks are known to the cell: those of the onset's own belong to the hit.
    let (first, last) = (from / MICRO as u64, to / MICRO as u64);
    let peak = cells.range(first, last).map(|(_, cell)| cell.peak).fold(0.0f32, f32::max);
    let peak = 20.0 * f64::from(peak).log10() - lufs(hit.bed);
    (hundredths(level as f32, t::SHAPE_LEVEL_DB), hundredths(peak as f32, t::SHAPE_PEAK_DB))
}

/// Mean K-weighted power of the micro-cells `from..to`. Within a cell it is shared out among the
/// quarters as their bands' powers are.
fn mean_power(cells: &Cells, from: u64, to: u64) -> f64 {
    const QUARTERS: u64 = MICRO as u64;
    let mut sum = 0.0;
    for (number, cell) in cells.range(from / QUARTERS, to.div_ceil(QUARTERS)) {
        let first = from.saturating_sub(number * QUARTERS).min(QUARTERS) as usize;
        let last = to.saturating_sub(number * QUARTERS).min(QUARTERS) as usize;
        let mut energy = f64::from(cell.weighted) * MICRO as f64;
        if last - first < MICRO {
            let quarter = |powers: &[f32; 3]| -> f32 {
                powers.iter().zip(t::QUARTER_WEIGHT).map(|(power, weight)| power * weight).sum()
            };
            let (mut within, mut whole) = (0.0f32, 0.0f32);
            for (at, powers) in cell.micro.iter().enumerate() {
                let power = quarter(powers);
                whole += power;
                within += if (first..last).contains(&at) { power } else { 0.0 };
            }
            let even = (last - first) as f32 / MICRO as f32;
            energy *= f64::from(if whole > 0.0 { within / whole } else { even });
        }
        sum += energy;
    }
    sum / (to - from) as f64
}

/// First cell of the waveform of the hit at `micro`; cells before the programme's start are none.
fn first_cell(micro: u64) -> i64 {
    (micro / MICRO as u64) as i64 - WAVE_BEFORE_MS as i64
}

/// The waveform of the hit at `micro`.
fn wave(cells: &Cells, micro: u64) -> Wave {
    let mut wave = Wave::default();
    let first = first_cell(micro);
    let from = first.max(0) as u64;
    let to = (first + WAVE_MS as i64).max(0) as u64;
    let largest = |sides: [f32; 2]| sides[0].max(sides[1]);
    wave.peak = cells.range(from, to).fold(0.0, |peak, (_, cell)| peak.max(largest(cell.sides)));
    if wave.peak <= 0.0 {
        return wave;
    }
    let scale = 255.0 / wave.peak;
    for (number, cell) in cells.range(from, to) {
        let at = (number as i64 - first) as usize;
        wave.sides[at] = cell.sides.map(|side| (side.max(0.0) * scale).round() as u8);
    }
    wave
}

/// Level of the main over that of the side-chain, each 10 ms around the hit at `micro`.
fn ratios(main: &Cells, side: &Cells, micro: u64) -> [i16; WAVE_RATIOS] {
    let first = first_cell(micro);
    let oldest = main.oldest().max(side.oldest()) as i64;
    let count = main.count().min(side.count()) as i64;
    std::array::from_fn(|step| {
        let from = first + 10 * step as i64;
        if from < oldest || from + 10 > count {
            return UNKNOWN;
        }
        let sum = |cells: &Cells| -> f32 {
            cells.range(from as u64, from as u64 + 10).map(|(_, cell)| cell.weighted).sum()
        };
        let (main, side) = (sum(main), sum(side));
        let known = main > 0.0 && side > 0.0;
        if known { hundredths(10.0 * (main / side).log10(), (-300.0, 300.0)) } else { UNKNOWN }
    })
}

//! What speaks for one role or another, in numbers that no gain moves.

use super::strokes::{Strokes, decibels, from_db, sorted};
use crate::bands::BANDS;
use crate::contrast::quantile;
use crate::lanes::dot;
use crate::parts::sum::median;
use crate::parts::{PartCell, PartTrack};
use crate::thresholds::role as l;

/// Numbers of a part's evidence.
pub const ROLE_EVIDENCE: usize = 27;

/// What was read of a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoleEvidence {
    /// Everything that the odds are made from, in the order in which the weights take it.
    pub numbers: [f32; ROLE_EVIDENCE],
    /// Shares of the low, mid and high band in the power, 0 to 1, of the time in which it plays.
    pub shares: [f64; BANDS],
    /// Fall of level from an onset's first 30 ms to 70 ms behind it, dB, median. `None` where
    /// onsets follow each other too fast.
    pub fall_db: Option<f64>,
    /// How much the tone of the onsets changes: low against mid band in their first 30 ms, 90th
    /// less 10th percentile, dB.
    pub change_db: f64,
}

/// The evidence of a part; `None` where it plays for too short a time or has too few onsets.
#[must_use]
pub fn role_evidence(track: &PartTrack) -> Option<RoleEvidence> {
    let frames: Vec<PartCell> = track.cells.chunks_exact(l::FRAME_CELLS).map(mean).collect();
    let sounding = frames.iter().map(|cell| f64::from(cell.weighted)).filter(|p| *p > 0.0);
    let sounding = sorted(sounding);
    if sounding.len() < l::LEAST_FRAMES || track.onsets.len() < l::LEAST_ONSETS {
        return None;
    }
    let loud = quantile(&sounding, 0.99);
    let least = loud * from_db(-l::PLAYING_DB);
    let floor = loud * from_db(-l::FLOOR_DB);
    let plays = |cell: &PartCell| f64::from(cell.weighted) > least;
    let playing: Vec<&PartCell> = frames.iter().filter(|cell| plays(cell)).collect();
    let strokes = Strokes::of(track, loud, floor);
    if playing.len() < l::LEAST_FRAMES || strokes.count < l::LEAST_ONSETS {
        return None;
    }
    let levels: Vec<[f64; BANDS]> = playing
        .iter()
        .map(|cell| cell.bands.map(|power| decibels(f64::from(power), floor)))
        .collect();
    let weighted = sorted(playing.iter().map(|cell| decibels(f64::from(cell.weighted), floor)));
    let sums: [f64; BANDS] =
        std::array::from_fn(|n| playing.iter().map(|cell| f64::from(cell.bands[n])).sum());
    let total = sums.iter().sum::<f64>().max(floor);
    let shares = sums.map(|sum| sum / total);
    let [low, mid, high] = shares.map(|share| decibels(share, from_db(-l::FLOOR_DB)));
    let all_weighted: f64 = playing.iter().map(|cell| f64::from(cell.weighted)).sum();

    let range = |of: &dyn Fn(&[f64; BANDS]) -> f64, from: f64, to: f64| {
        let values = sorted(levels.iter().map(of));
        quantile(&values, to) - quantile(&values, from)
    };
    let crests: Vec<f64> = playing
        .iter()
        .map(|cell| {
            let power = cell.bands.iter().map(|&power| f64::from(power)).sum::<f64>();
            decibels(f64::from(cell.peak).powi(2), floor) - decibels(power, floor)
        })
        .collect();
    let first = frames.iter().position(plays).unwrap_or(0);
    let last = frames.iter().rposition(plays).unwrap_or(0);
    let playing_s = playing.len() as f64 * l::FRAME_CELLS as f64 * track.cell_s();
    let period = Period::of(track, least, |cell| cell.weighted);
    let beat = Period::of(track, least, |cell| cell.bands[0]);
    let numbers = [
        // Where the power lies.
        low - mid,
        high - mid,
        decibels(all_weighted / total, from_db(-l::FLOOR_DB)),
        // How levels spread: strokes stand far over what is between them, held notes do not.
        range(&|bands| bands[0], 0.5, 0.95),
        range(&|bands| bands[1], 0.5, 0.95),
        range(&|bands| bands[2], 0.5, 0.95),
        quantile(&weighted, 0.95) - quantile(&weighted, 0.5),
        quantile(&weighted, 0.5) - quantile(&weighted, 0.1),
        // How the tone changes: a kit is many instruments, a string one.
        range(&|bands| bands[0] - bands[1], 0.1, 0.9),
        range(&|bands| bands[2] - bands[1], 0.1, 0.9),
        correlation(&levels, 0, 2),
        correlation(&levels, 1, 2),
        // How it is played.
        median(&crests).unwrap_or(0.0),
        (track.onsets.len() as f64 / playing_s).ln(),
        playing.len() as f64 / (last - first + 1) as f64,
        strokes.fall_db[0].unwrap_or(0.0),
        strokes.fall_db[1].or(strokes.fall_db[0]).unwrap_or(0.0),
        strokes.change_db[0],
        strokes.change_db[1],
        strokes.bright_db - (high - mid),
        strokes.rise_db,
        strokes.level_spread_db,
        strokes.strength,
        // Whether it has a pitch, and about which.
        period.strength,
        period.cells.ln(),
        beat.strength,
        beat.cells.ln(),
    ];
    Some(RoleEvidence {
        numbers: numbers.map(|number| number as f32),
        shares,
        fall_db: strokes.fall_db[0],
        change_db: strokes.change_db[0],
    })
}

/// How periodic the power is within a window, and the length of that period.
struct Period {
    /// Normalised autocorrelation at its highest, -1 to 1, median over windows.
    strength: f64,
    /// Where it is highest, cells, median.
    cells: f64,
}

impl Period {
    /// Of the windows in which the part plays throughout.
    fn of(track: &PartTrack, least: f64, power: impl Fn(&PartCell) -> f32) -> Self {
        let (mut strengths, mut places) = (Vec::new(), Vec::new());
        let [shortest, longest] = l::PERIODS;
        let reach = l::PERIOD_CELLS - longest;
        for window in track.cells.chunks_exact(l::PERIOD_CELLS) {
            let plays = |cells: &[PartCell]| f64::from(mean(cells).weighted) > least;
            if !window.chunks_exact(l::FRAME_CELLS).all(plays) {
                continue;
            }
            let mut values = [0.0f32; l::PERIOD_CELLS];
            let mean = window.iter().map(&power).sum::<f32>() / l::PERIOD_CELLS as f32;
            values.iter_mut().zip(window).for_each(|(value, cell)| *value = power(cell) - mean);
            let own = dot(&values[..reach], &values[..reach]);
            let alike = |lag: usize| {
                let moved = &values[lag..lag + reach];
                dot(&values[..reach], moved)
                    / (own * dot(moved, moved)).sqrt().max(f32::MIN_POSITIVE)
            };
            let all: Vec<f32> = (shortest - 1..=longest).map(alike).collect();
            // A period is a rise behind a fall, not the first lag of a slow swing.
            let peak = (1..all.len() - 1)
                .filter(|&n| all[n] >= all[n - 1] && all[n] >= all[n + 1])
                .max_by(|&a, &b| all[a].total_cmp(&all[b]));
            if let Some(peak) = peak {
                strengths.push(f64::from(all[peak]));
                places.push((peak + shortest - 1) as f64);
            }
        }
        Self {
            strength: median(&strengths).unwrap_or(0.0),
            cells: median(&places).unwrap_or(longest as f64),
        }
    }
}

/// The mean of some cells; the largest of their peaks.
fn mean(cells: &[PartCell]) -> PartCell {
    let mut mean = PartCell::default();
    let share = 1.0 / cells.len() as f32;
    for cell in cells {
        mean.weighted += cell.weighted * share;
        mean.peak = mean.peak.max(cell.peak);
        for (sum, power) in mean.bands.iter_mut().zip(cell.bands) {
            *sum += power * share;
        }
    }
    mean
}

/// Pearson's correlation of two bands' levels.
fn correlation(levels: &[[f64; BANDS]], a: usize, b: usize) -> f64 {
    let count = levels.len() as f64;
    let mean = |band: usize| levels.iter().map(|level| level[band]).sum::<f64>() / count;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for level in levels {
        let (a, b) = (level[a] - mean_a, level[b] - mean_b);
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    if aa * bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
}

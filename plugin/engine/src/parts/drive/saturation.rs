//! Evidence of saturation itself in a guitar's cells, and the share of its attack that it kept.
//!
//! A saturator lowers what is loud and lifts what is not: the loud moments come nearer to the usual
//! level, strokes rise and notes fall less, the highs stay where they are while a note fades, and the
//! waveform is as full late in a note as at its start. Each of these depends on the riff too, and no
//! two in the same way, so a weighted sum of them tells the gain on riffs that none of them could
//! judge alone. None depends on the level, and none needs an onset. The weights are those of
//! `tests/lab/drive/fit.py` ([`weights`](super::weights)).

use super::weights::{CENTRE, EVIDENCE, FAR, OFFSET, SPREAD, WEIGHTS};
use crate::Cost;
use crate::contrast::quantile;
use crate::parts::{PartCell, PartTrack};
use crate::thresholds::drive as l;

/// What gain took from a guitar's own strokes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saturation {
    /// How much of the height of its strokes over its own sustain, in decibels, is left, 0 to 1: 1
    /// without any gain. With the ends of its 90 % range.
    pub kept: f64,
    /// Lower end.
    pub kept_low: f64,
    /// Upper end.
    pub kept_high: f64,
    /// The share as the evidence has it, beyond 0 and 1 too: orders takes of one riff that kept all of
    /// their attack, or nothing of it.
    pub unlimited: f64,
}

/// Which end of the range of the share kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// The share as it is read.
    Read,
    /// The lower end: more was lost.
    Low,
    /// The upper end: less was lost.
    High,
}

impl Kept {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Read, Self::Low, Self::High];
}

impl Saturation {
    /// The share that is kept, at one end of its range or as it is read.
    #[must_use]
    pub const fn share(&self, which: Kept) -> f64 {
        match which {
            Kept::Read => self.kept,
            Kept::Low => self.kept_low,
            Kept::High => self.kept_high,
        }
    }

    /// Reads a guitar. `None` where it plays for less than 2 s, or where its sound lies far outside of
    /// what the weights were fitted on.
    #[must_use]
    pub fn read(track: &PartTrack) -> Option<Self> {
        let numbers = evidence(track)?;
        let mut sum = OFFSET;
        let mut far = 0;
        for (number, &value) in numbers.iter().enumerate() {
            let steps = (value - CENTRE[number]) / SPREAD[number];
            far += usize::from(steps.abs() > FAR);
            sum += WEIGHTS[number] * steps.clamp(-FAR, FAR);
        }
        if far > l::FAR_MOST {
            return None;
        }
        let limit = |kept: f64| kept.clamp(l::KEPT_LEAST, 1.0);
        Some(Self {
            kept: limit(sum),
            kept_low: limit(sum - l::KEPT_RANGE),
            kept_high: limit(sum + l::KEPT_RANGE),
            unlimited: sum,
        })
    }

    /// Attack that the guitar has lost, dB: of a note that would stand [`l::NOTE_DB`] over its
    /// sustain without any gain.
    #[must_use]
    pub fn attack_lost(&self) -> Cost {
        let lost_db = |kept: f64| l::NOTE_DB * (1.0 - kept);
        Cost {
            db: lost_db(self.kept),
            low_db: lost_db(self.kept_high),
            high_db: lost_db(self.kept_low),
        }
    }

    /// Several guitars together: the mean of what they kept, by their powers.
    #[must_use]
    pub fn together(guitars: impl Iterator<Item = (f64, Self)>) -> Option<Self> {
        let (mut all, mut sums) = (0.0, [0.0; 4]);
        for (power, guitar) in guitars {
            all += power;
            let each = [guitar.kept, guitar.kept_low, guitar.kept_high, guitar.unlimited];
            sums.iter_mut().zip(each).for_each(|(sum, share)| *sum += power * share);
        }
        let [kept, kept_low, kept_high, unlimited] = sums.map(|sum| sum / all);
        (all > 0.0).then_some(Self { kept, kept_low, kept_high, unlimited })
    }
}

/// What less gain would bring back of lost attack: the part beyond [`l::LOST_ALLOWED_DB`], which a
/// distorted sound takes.
#[must_use]
pub fn beyond_need(lost: Cost) -> Cost {
    let beyond = |db: f64| (db - l::LOST_ALLOWED_DB).max(0.0);
    Cost { db: beyond(lost.db), low_db: beyond(lost.low_db), high_db: beyond(lost.high_db) }
}

/// The evidence, in the order of the weights; `None` with less than 2 s of sound.
#[must_use]
pub fn evidence(track: &PartTrack) -> Option<[f64; EVIDENCE]> {
    let weighted: Vec<f64> = track.cells.iter().map(|cell| f64::from(cell.weighted)).collect();
    let short = means(&weighted, l::SHORT_CELLS);
    let mut heights = short.clone();
    heights.sort_by(f64::total_cmp);
    if heights.is_empty() {
        return None;
    }
    let loud = quantile(&heights, 0.98);
    if loud <= 0.0 {
        return None;
    }
    let level_db = |power: &f64| 10.0 * (power.max(loud * 1e-4) / loud).log10();
    let short: Vec<f64> = short.iter().map(level_db).collect();
    let long: Vec<f64> = means(&weighted, l::LONG_CELLS).iter().map(level_db).collect();
    let playing = |levels: &[f64]| {
        sorted(levels.iter().copied().filter(|&db| db > -l::PLAYING_UNDER_DB).collect())
    };
    let (short_levels, long_levels) = (playing(&short), playing(&long));
    let frames = Frames::of(track, loud);
    if (short_levels.len() * l::STEP_CELLS) as f64 * track.cell_s() < l::LEAST_S
        || frames.crest_db.len() < l::LEAST_FRAMES
    {
        return None;
    }
    let over = |levels: &[f64], high: f64, low: f64| quantile(levels, high) - quantile(levels, low);
    let moves = |lag: usize| -> Vec<f64> {
        let pairs = short.iter().zip(short.get(lag..).unwrap_or_default());
        let heard = pairs.filter(|(before, after)| before.max(**after) > -l::MOVES_UNDER_DB);
        heard.map(|(before, after)| after - before).collect()
    };
    let falls = sorted(moves(l::FALL_STEPS));
    let swings = sorted(moves(l::SWING_STEPS).into_iter().map(f64::abs).collect());
    if falls.is_empty() || swings.is_empty() || frames.high_moves_db.is_empty() {
        return None;
    }
    let log = |db: f64| (db.max(0.0) + 0.3).ln();
    let peaks = over(&short_levels, 0.98, 0.90);
    let high = |q: f64| quantile(&frames.high_moves_db, q);
    Some([
        log(peaks),
        log(quantile(&frames.pulse_db, 0.9)),
        high(0.85),
        frames.crest_tilt_db(),
        log(over(&long_levels, 0.98, 0.5)),
        peaks,
        log(high(0.5)),
        log(-quantile(&falls, 0.25)),
        quantile(&swings, 0.8),
    ])
}

/// Seconds in which a guitar plays.
pub(super) fn heard_s(track: &PartTrack) -> f64 {
    let weighted: Vec<f64> = track.cells.iter().map(|cell| f64::from(cell.weighted)).collect();
    let levels = sorted(means(&weighted, l::SHORT_CELLS));
    let loud = if levels.is_empty() { 0.0 } else { quantile(&levels, 0.98) };
    let least = loud * 10f64.powf(-l::PLAYING_UNDER_DB / 10.0);
    let heard = levels.iter().filter(|&&level| level > least).count();
    (heard * l::STEP_CELLS) as f64 * track.cell_s()
}

/// Means of so many cells, one each [`l::STEP_CELLS`].
fn means(weighted: &[f64], cells: usize) -> Vec<f64> {
    let mean = |window: &[f64]| window.iter().sum::<f64>() / cells as f64;
    weighted.windows(cells).step_by(l::STEP_CELLS).map(mean).collect()
}

fn sorted(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
}

/// What frames of [`l::FRAME_CELLS`] show, of those in which the guitar plays.
struct Frames {
    /// Level, dB.
    level_db: Vec<f64>,
    /// Crest factor, dB.
    crest_db: Vec<f64>,
    /// Loudest cell over the mean, dB; sorted.
    pulse_db: Vec<f64>,
    /// Change of the high band's level to the next frame, dB, magnitude; sorted.
    high_moves_db: Vec<f64>,
}

impl Frames {
    fn of(track: &PartTrack, loud: f64) -> Self {
        let (mut level_db, mut crest_db) = (Vec::new(), Vec::new());
        let (mut pulse_db, mut high_moves_db) = (Vec::new(), Vec::new());
        let db = |power: f64| 10.0 * power.log10();
        let mut before: Option<f64> = None;
        for frame in track.cells.chunks_exact(l::FRAME_CELLS) {
            let sum = |of: &dyn Fn(&PartCell) -> f32| -> f64 {
                frame.iter().map(|cell| f64::from(of(cell))).sum()
            };
            let mean = |of: &dyn Fn(&PartCell) -> f32| sum(of) / l::FRAME_CELLS as f64;
            let weighted = mean(&|cell| cell.weighted);
            if weighted <= loud * 10f64.powf(-l::MOVES_UNDER_DB / 10.0) {
                before = None;
                continue;
            }
            // Bands add up both channels; the peak is that of the louder one.
            let louder =
                mean(&|cell| cell.sides.iter().fold(0.0, |most: f32, &side| most.max(side)));
            let share = if louder > 0.0 { louder / weighted } else { 1.0 };
            let power = mean(&|cell| cell.bands.iter().sum()) * share;
            let peak = frame.iter().fold(0.0f32, |most, cell| most.max(cell.peak));
            let pulse = frame.iter().fold(0.0f32, |most, cell| most.max(cell.weighted));
            level_db.push(db(weighted));
            crest_db.push(2.0 * db(f64::from(peak).max(1e-10)) - db(power.max(1e-20)));
            pulse_db.push(db(f64::from(pulse) / weighted));
            let high = db(mean(&|cell| cell.bands[2]).max(loud * 1e-6));
            if let Some(before) = before.replace(high) {
                high_moves_db.push((high - before).abs());
            }
        }
        Self {
            level_db,
            crest_db,
            pulse_db: sorted(pulse_db),
            high_moves_db: sorted(high_moves_db),
        }
    }

    /// Crest factor of the loudest fifth less that of the quieter two fifths, dB, medians.
    fn crest_tilt_db(&self) -> f64 {
        let levels = sorted(self.level_db.clone());
        let (loud, quiet) = (quantile(&levels, 0.8), quantile(&levels, 0.4));
        let median = |among: &dyn Fn(f64) -> bool| {
            let crests = self.level_db.iter().zip(&self.crest_db);
            let chosen = sorted(crests.filter(|(db, _)| among(**db)).map(|(_, c)| *c).collect());
            quantile(&chosen, 0.5)
        };
        median(&|db| db >= loud) - median(&|db| db <= quiet)
    }
}

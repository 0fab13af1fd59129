//! How a part strays from another: offset, spread, early and late, drift, worst passages.

use super::pairing::Shared;
use crate::parts::sum::median;

/// How one part is timed against another. Times in ms, late positive.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Deviation {
    /// Events that both play.
    pub shared: usize,
    /// Strokes of the part where the other plays, too: not those in its rests.
    pub played: usize,
    /// Constant offset: median over shared events.
    pub offset_ms: f64,
    /// Half of its 90 % range.
    pub offset_range_ms: f64,
    /// Spread around the offset: standard deviation without stray pairs.
    pub spread_ms: f64,
    /// 90 % range of the spread.
    pub spread_range_ms: (f64, f64),
    /// Of the events further off than [`TELLABLE_MS`] either way, the share that is early, 0 to 1;
    /// `None` where there are none.
    pub early_share: Option<f64>,
    /// Share of the events that come further from the reference than listeners hear, 0 to 1:
    /// [`AUDIBLE_MS`](super::AUDIBLE_MS), of drums [`AUDIBLE_DRUMS_MS`](super::AUDIBLE_DRUMS_MS), low
    /// ends.
    pub audible_share: f64,
    /// Drift of the offset over the song, ms a minute, and half of its 90 % range; `None` under
    /// [`DRIFT_LEAST_S`].
    pub drift_ms_a_minute: Option<(f64, f64)>,
    /// The passages that stray most, worst first.
    pub passages: Vec<Passage>,
}

/// A passage that strays more than the part as a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Passage {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Median there, ms against the reference.
    pub offset_ms: f64,
    /// Spread there, ms.
    pub spread_ms: f64,
    /// Shared events there.
    pub shared: usize,
    /// First and last bar of the song that it lies in, the song's first counted as 1. The engine
    /// leaves it `None`: whoever knows the host's bars fills it in.
    pub bars: Option<(i64, i64)>,
}

/// One stroke of a part, and how far it comes from where the reference has it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stray {
    /// Place, s from the start of the part's track.
    pub at_s: f64,
    /// How late it is, ms; the part's constant offset where no stroke of the reference belongs to it.
    pub late_ms: f64,
    /// The part's constant offset, ms.
    pub offset_ms: f64,
    /// The stroke of the reference that belongs to it, by number.
    pub hit: Option<usize>,
}

/// Fewest shared events for a reading. Ours: two bars of eighths.
pub const SHARED_LEAST: usize = 12;
/// Deviation that can be told from none, ms. Ours: what an onset is located to.
pub const TELLABLE_MS: f64 = 2.0;
/// Shortest stretch over which a drift is read, s. Ours.
pub const DRIFT_LEAST_S: f64 = 10.0;
/// Length of a passage, s. Ours: two bars at 120 beats a minute.
pub const PASSAGE_S: f64 = 4.0;
/// Fewest shared events of a passage. Ours.
const PASSAGE_LEAST: usize = 5;
/// Most passages told. Ours.
const PASSAGES_MOST: usize = 3;
/// Pairs so many robust deviations off are no pairs. Ours: a normal deviate comes there once in
/// 2,000 times.
const STRAY: f64 = 3.5;
/// From the median of absolute deviations to a standard deviation, for normal deviates.
const NORMAL: f64 = 1.4826;
/// 90 % of a normal distribution lie within so many standard deviations.
const NINETY: f64 = 1.645;

/// Reads the deviation of pairs that lay `apart_ms` from the offset at most; `None` under
/// [`SHARED_LEAST`] of them. Listeners hear what is `audible_ms` off.
pub(crate) fn read(pairs: &[Shared], apart_ms: f64, audible_ms: f64) -> Option<Deviation> {
    if pairs.len() < SHARED_LEAST {
        return None;
    }
    let late: Vec<f64> = pairs.iter().map(|pair| pair.late_ms).collect();
    let offset_ms = median(&late)?;
    let kept = near(&late, offset_ms);
    let spread_ms = untruncated(deviation(&kept), apart_ms);
    let count = kept.len() as f64;
    // Of the sample median, for normal deviates: sqrt(pi/2) times that of the mean.
    let offset_range_ms = NINETY * 1.2533 * spread_ms / count.sqrt();
    let share = NINETY / (2.0 * (count - 1.0)).sqrt();
    let (early, off) = late
        .iter()
        .filter(|ms| ms.abs() > TELLABLE_MS)
        .fold((0.0, 0.0), |(early, off), ms| (early + f64::from(u8::from(*ms < 0.0)), off + 1.0));
    Some(Deviation {
        shared: pairs.len(),
        played: pairs.len(),
        offset_ms,
        offset_range_ms,
        spread_ms,
        spread_range_ms: (spread_ms * (1.0 - share), spread_ms * (1.0 + share)),
        early_share: (off > 0.0).then(|| early / off),
        audible_share: late.iter().filter(|ms| ms.abs() > audible_ms).count() as f64
            / late.len() as f64,
        drift_ms_a_minute: drift(pairs, offset_ms, &kept),
        passages: passages(pairs, offset_ms, spread_ms),
    })
}

/// The values that are no strays.
fn near(late: &[f64], centre: f64) -> Vec<f64> {
    let off: Vec<f64> = late.iter().map(|ms| (ms - centre).abs()).collect();
    let robust = NORMAL * median(&off).unwrap_or(0.0);
    let limit = STRAY * robust.max(1.0);
    late.iter().copied().filter(|ms| (ms - centre).abs() <= limit).collect()
}

/// Standard deviation.
fn deviation(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (count - 1.0).max(1.0)).sqrt()
}

/// The spread of normal deviates of which only those within `reach` were seen: cut tails make the
/// seen spread too small. Fixed point of the variance of a normal deviate cut at `c` standard
/// deviations, 1 - 2 c phi(c) / (2 Phi(c) - 1) (closed form).
fn untruncated(seen: f64, reach: f64) -> f64 {
    let mut spread = seen;
    for _ in 0..30 {
        let cut = reach / spread.max(1e-6);
        if cut > 5.0 {
            return spread;
        }
        let density = (-0.5 * cut * cut).exp() / std::f64::consts::TAU.sqrt();
        let inside = central(cut);
        let share = (1.0 - 2.0 * cut * density / inside).max(0.2);
        spread = (seen / share.sqrt()).min(reach);
    }
    spread
}

/// Probability of a normal deviate within `cut` standard deviations: Simpson's rule.
fn central(cut: f64) -> f64 {
    let density = |x: f64| (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
    let steps = 32;
    let h = 2.0 * cut / f64::from(steps);
    (0..=steps)
        .map(|n| {
            let weight = if n == 0 || n == steps {
                1.0
            } else if n % 2 == 1 {
                4.0
            } else {
                2.0
            };
            weight * density(-cut + h * f64::from(n))
        })
        .sum::<f64>()
        * h
        / 3.0
}

/// Slope of the deviation over time, by least squares without strays, and its range.
fn drift(pairs: &[Shared], centre: f64, kept: &[f64]) -> Option<(f64, f64)> {
    let limit = kept.iter().map(|ms| (ms - centre).abs()).fold(0.0, f64::max);
    let points: Vec<(f64, f64)> = pairs
        .iter()
        .filter(|pair| (pair.late_ms - centre).abs() <= limit)
        .map(|pair| (pair.time_s / 60.0, pair.late_ms))
        .collect();
    let (first, last) = (points.first()?.0, points.last()?.0);
    if (last - first) * 60.0 < DRIFT_LEAST_S {
        return None;
    }
    let count = points.len() as f64;
    let mean_t = points.iter().map(|p| p.0).sum::<f64>() / count;
    let mean_y = points.iter().map(|p| p.1).sum::<f64>() / count;
    let sxx: f64 = points.iter().map(|p| (p.0 - mean_t).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p.0 - mean_t) * (p.1 - mean_y)).sum();
    let slope = sxy / sxx;
    let rest: f64 = points.iter().map(|p| (p.1 - mean_y - slope * (p.0 - mean_t)).powi(2)).sum();
    let error = (rest / (count - 2.0).max(1.0) / sxx).sqrt();
    Some((slope, NINETY * error))
}

/// The passages that stray most from the offset, as far as their events can tell.
fn passages(pairs: &[Shared], offset_ms: f64, spread_ms: f64) -> Vec<Passage> {
    let mut found: Vec<(f64, Passage)> = Vec::new();
    let (Some(first), Some(last)) = (pairs.first(), pairs.last()) else { return Vec::new() };
    let mut from_s = first.time_s;
    while from_s < last.time_s {
        let to_s = from_s + PASSAGE_S;
        let late: Vec<f64> = pairs
            .iter()
            .filter(|pair| (from_s..to_s).contains(&pair.time_s))
            .map(|pair| pair.late_ms)
            .collect();
        if late.len() >= PASSAGE_LEAST
            && let Some(middle) = median(&late)
        {
            let spread = deviation(&near(&late, middle));
            let off = (middle - offset_ms).abs();
            // Twice what chance does to a median of so few.
            let chance = 2.0 * 1.2533 * spread_ms.max(1.0) / (late.len() as f64).sqrt();
            let loose = spread > 1.6 * spread_ms.max(TELLABLE_MS);
            if (off > chance && off > TELLABLE_MS) || loose {
                let shared = late.len();
                let passage = Passage {
                    from_s,
                    to_s,
                    offset_ms: middle,
                    spread_ms: spread,
                    shared,
                    bars: None,
                };
                found.push((off.max(spread - spread_ms), passage));
            }
        }
        from_s += PASSAGE_S / 4.0;
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut told: Vec<Passage> = Vec::new();
    for (_, passage) in found {
        let apart = |other: &Passage| passage.from_s >= other.to_s || passage.to_s <= other.from_s;
        if told.iter().all(apart) {
            told.push(passage);
        }
        if told.len() == PASSAGES_MOST {
            break;
        }
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: a normal distribution cut at one standard deviation keeps 0.2911 of its
    /// variance.
    #[test]
    fn cut_tails_are_given_back() {
        let seen = 0.291_13f64.sqrt();
        assert!(
            (untruncated(seen * 20.0, 20.0) - 20.0).abs() < 0.4,
            "{}",
            untruncated(seen * 20.0, 20.0)
        );
        assert!((untruncated(5.0, 60.0) - 5.0).abs() < 1e-6);
    }
}

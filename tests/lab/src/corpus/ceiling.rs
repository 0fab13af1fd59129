//! What a limiter took from the hits: the truth behind the ceiling leak.
//!
//! For a hit, both measured on the two sides of the processor and on nothing else:
//! - **reduction**, dB: true peak ahead of the limiter, make-up gain included, less the true peak
//!   behind it, each over the hit's first 50 ms;
//! - **lost**, dB: the same with the side ahead brought to the integrated loudness of the other.

use super::player::Instrument;
use super::process::Processed;
use super::score::Onset;
use super::truth::{Truth, loudness, true_peak};
use super::{Mix, audio::to_db};

/// Part of a hit whose peak counts, s.
pub const PEAK_S: f64 = 0.050;
/// Events closer than this are one hit, s.
pub const MERGE_S: f64 = 0.030;

/// Widest interval in which a true onset is placed, s: some cymbals swell for longer.
pub const WIDEST_S: f64 = 0.005;

/// One hit's truth.
#[derive(Clone, Debug, PartialEq)]
pub struct HitTruth {
    /// Onset of the hit's first event, s.
    pub time_s: f64,
    /// Who plays in it.
    pub instruments: Vec<Instrument>,
    /// Peak reduction, dB.
    pub reduction_db: f64,
    /// Lost peak at matched loudness, dB.
    pub lost_db: f64,
}

/// Truth of a whole file.
#[derive(Clone, Debug, PartialEq)]
pub struct CeilingTruth {
    /// All hits in order of time.
    pub hits: Vec<HitTruth>,
    /// Loudness behind less loudness ahead, LU.
    pub loudness_change_lu: f64,
}

impl CeilingTruth {
    /// Quantile `q` (0 to 1) of the reduction over hits, dB; 0 without hits.
    #[must_use]
    pub fn reduction_db(&self, q: f64) -> f64 {
        quantile(self.hits.iter().map(|h| h.reduction_db).collect(), q)
    }

    /// Mean of the reduction over hits, dB; 0 without hits.
    #[must_use]
    pub fn mean_reduction_db(&self) -> f64 {
        let sum: f64 = self.hits.iter().map(|hit| hit.reduction_db).sum();
        sum / self.hits.len().max(1) as f64
    }

    /// Quantile of the lost peak over hits, dB.
    #[must_use]
    pub fn lost_db(&self, q: f64) -> f64 {
        quantile(self.hits.iter().map(|h| h.lost_db).collect(), q)
    }
}

/// Truth at given hits: pass a meter's own hit times to compare like with like, or
/// [`programmed_hits`].
#[must_use]
pub fn at(processed: &Processed, hits: &[(f64, Vec<Instrument>)]) -> CeilingTruth {
    let rate = f64::from(processed.before.rate);
    let change = match (loudness(&processed.before), loudness(&processed.after)) {
        (Some(before), Some(after)) => after - before,
        _ => 0.0,
    };
    let hits = hits
        .iter()
        .map(|(time_s, instruments)| {
            let from = (time_s * rate) as usize;
            let to = from + (PEAK_S * rate) as usize;
            let before = to_db(true_peak(&processed.before, from, to));
            let after = to_db(true_peak(&processed.after, from, to));
            HitTruth {
                time_s: *time_s,
                instruments: instruments.clone(),
                reduction_db: before - after,
                lost_db: before + change - after,
            }
        })
        .collect();
    CeilingTruth { hits, loudness_change_lu: change }
}

/// The hits that a song's drums play: kick, snare, toms, claps, crashes; events closer than
/// [`MERGE_S`] are one. Hats and rides alone carry no peak and are left out.
#[must_use]
pub fn programmed_hits(mix: &Mix) -> Vec<(f64, Vec<Instrument>)> {
    merge(mix.truth.iter().filter(|t| is_strong(t)), MERGE_S)
        .into_iter()
        .map(|group| (group[0].time_s, group.iter().map(|t| t.instrument).collect()))
        .collect()
}

/// Groups events in order of time: one joins a group that began less than `gap_s` before it.
pub fn merge<'a>(events: impl Iterator<Item = &'a Truth>, gap_s: f64) -> Vec<Vec<&'a Truth>> {
    let mut groups: Vec<Vec<&Truth>> = Vec::new();
    for event in events {
        match groups.last_mut() {
            Some(group) if event.time_s - group[0].time_s < gap_s => group.push(event),
            _ => groups.push(vec![event]),
        }
    }
    groups
}

/// The true onsets of groups of events closer than `gap_s`. `strict`: the first event's onset
/// (-30 dB). Else an interval from there to the -10 dB point of the group's strongest event,
/// [`WIDEST_S`] at most.
#[must_use]
pub fn onsets<'a>(events: impl Iterator<Item = &'a Truth>, gap_s: f64, strict: bool) -> Vec<Onset> {
    let strength = |t: &Truth| t.rise_db.unwrap_or(f64::NEG_INFINITY);
    merge(events, gap_s)
        .iter()
        .map(|group| {
            let from_s = group[0].time_s;
            let strongest = group.iter().max_by(|a, b| strength(a).total_cmp(&strength(b)));
            let late = strongest.map_or(from_s, |t| t.time_10_s);
            let to_s = if strict { from_s } else { late.clamp(from_s, from_s + WIDEST_S) };
            Onset { from_s, to_s }
        })
        .collect()
}

fn is_strong(truth: &Truth) -> bool {
    use super::drums::Drum::{Clap, Crash, Kick, SideStick, Snare, TomHigh, TomLow, TomMid};
    matches!(
        truth.instrument,
        Instrument::Drum(Kick | Snare | SideStick | Clap | Crash | TomHigh | TomMid | TomLow)
    ) && truth.velocity > 0.45
}

/// Quantile by linear interpolation between order statistics; 0 of nothing.
#[must_use]
pub fn quantile(mut values: Vec<f64>, q: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let Some(last) = values.len().checked_sub(1) else { return 0.0 };
    let place = q.clamp(0.0, 1.0) * last as f64;
    let low = place.floor() as usize;
    let high = (low + 1).min(last);
    values[low] + (place - low as f64) * (values[high] - values[low])
}

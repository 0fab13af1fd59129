//! What the parts are read against: the strokes of the reference, and those of the other drums where it
//! has none.

use super::against::{Against, against, cells, first_frame, times_s};
use super::deviation::SHARED_LEAST;
use crate::parts::sum::percentile;
use crate::parts::{PartRole, PartTrack};
use crate::thresholds::arrangement::{MAIN_HIT_DB, OWN_MS};

/// The strokes that count as the beat. A kick and a snare that come as two parts are the drums together:
/// most of a part's notes would have no partner in one of them.
#[derive(Clone, Debug, Default)]
pub(crate) struct Beats {
    /// The track that the others are read against.
    pub(super) reference: usize,
    /// In order of time.
    all: Vec<Beat>,
    /// Other tracks that have strokes among them.
    pub(super) joined: Vec<usize>,
}

/// A stroke among them.
#[derive(Clone, Copy, Debug)]
struct Beat {
    time_s: f64,
    /// Place, cells from the first frame of all tracks.
    cell: f64,
    level_lufs: f64,
    /// Whether it is of the reference itself.
    own: bool,
}

impl Beats {
    /// The strokes of the track numbered `reference`. Where that is drums, those of other drums join it,
    /// the track with the most onsets first: as far as they lie further than [`OWN_MS`] from those that
    /// are there, and mean no stroke of the reference. Drums that are late as a whole, or fall anywhere,
    /// are no beat.
    pub(crate) fn new(tracks: &[PartTrack], reference: usize) -> Self {
        let all = strokes(tracks, reference, true);
        let mut beats = Self { reference, all, joined: Vec::new() };
        if tracks[reference].role != PartRole::Drums {
            return beats;
        }
        let mut drums: Vec<usize> = (0..tracks.len())
            .filter(|&n| n != reference && tracks[n].role == PartRole::Drums)
            .collect();
        drums.sort_by_key(|&n| std::cmp::Reverse(tracks[n].onsets.len()));
        let own = times_s(&tracks[reference]);
        for part in drums {
            let shared = match against(&tracks[part], &own, first_frame(tracks)) {
                Against::Strays(_, events) => events,
                Against::Few(_) => Vec::new(),
                Against::Beyond(_) => continue,
            };
            let free = |beat: &Beat| {
                let meant =
                    shared.binary_search_by(|event| event.cell.total_cmp(&beat.cell)).is_ok();
                !meant && beats.apart_ms(beat.time_s) > OWN_MS
            };
            let more: Vec<Beat> = strokes(tracks, part, false).into_iter().filter(free).collect();
            if !more.is_empty() {
                beats.all.extend(more);
                beats.all.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
                beats.joined.push(part);
            }
        }
        beats
    }

    /// Whether strokes of that track are among them.
    pub(super) fn hold(&self, part: usize) -> bool {
        part == self.reference || self.joined.contains(&part)
    }

    /// Distance of the nearest one from a time, ms.
    fn apart_ms(&self, time_s: f64) -> f64 {
        let after = self.all.partition_point(|beat| beat.time_s < time_s);
        let apart = |n: usize| {
            self.all.get(n).map_or(f64::INFINITY, |beat| 1e3 * (beat.time_s - time_s).abs())
        };
        apart(after).min(after.checked_sub(1).map_or(f64::INFINITY, apart))
    }

    /// Time of each, s, on the timeline of the tracks.
    pub(crate) fn times_s(&self) -> Vec<f64> {
        self.all.iter().map(|beat| beat.time_s).collect()
    }

    /// Place of each, cells from the first frame of all tracks.
    pub(super) fn cells(&self) -> impl Iterator<Item = f64> + '_ {
        self.all.iter().map(|beat| beat.cell)
    }

    /// Which of them are as loud as the main hits.
    pub(crate) fn main(&self) -> Vec<bool> {
        let levels: Vec<f64> = self.all.iter().map(|beat| beat.level_lufs).collect();
        let least = percentile(&levels, 0.9).unwrap_or(0.0) - MAIN_HIT_DB;
        levels.into_iter().map(|level| level >= least).collect()
    }

    /// How a track lies against them; drums against those of the reference itself, with which they are
    /// the beat.
    pub(super) fn against(&self, track: &PartTrack, first: i64) -> Against {
        let counts = |beat: &Beat| beat.own || track.role != PartRole::Drums;
        let numbers: Vec<usize> = (0..self.all.len()).filter(|&n| counts(&self.all[n])).collect();
        let times: Vec<f64> = numbers.iter().map(|&n| self.all[n].time_s).collect();
        let mut found = against(track, &times, first);
        if let Against::Strays(_, events) = &mut found {
            events.iter_mut().for_each(|event| event.hit = numbers[event.hit]);
        }
        found
    }
}

/// The strokes of a track.
fn strokes(tracks: &[PartTrack], part: usize, own: bool) -> Vec<Beat> {
    let track = &tracks[part];
    let cells = cells(track, first_frame(tracks));
    let strokes = track.strokes().zip(times_s(track)).zip(cells);
    strokes
        .map(|((onset, time_s), cell)| Beat {
            time_s,
            cell,
            level_lufs: f64::from(onset.level_lufs),
            own,
        })
        .collect()
}

/// The drums with the most onsets; else the part that shares most events and strays least.
pub(super) fn reference(tracks: &[PartTrack]) -> Option<usize> {
    let enough = |n: &usize| {
        let own = tracks[*n].onsets.len() >= SHARED_LEAST;
        own || Beats::new(tracks, *n).all.len() >= SHARED_LEAST
    };
    let drums = (0..tracks.len())
        .filter(|&n| tracks[n].role == PartRole::Drums)
        .max_by_key(|&n| tracks[n].onsets.len())
        .filter(enough);
    if drums.is_some() || tracks.len() < 2 {
        return drums;
    }
    let first = first_frame(tracks);
    let strays = |n: usize| -> Option<f64> {
        let others = (0..tracks.len()).filter(|&other| other != n);
        let beats = times_s(&tracks[n]);
        let spreads: Vec<f64> = others
            .filter_map(|other| against(&tracks[other], &beats, first).strays())
            .map(|(deviation, _)| deviation.spread_ms)
            .collect();
        // A part that few can be read against is no reference, however tight with those.
        let sum: f64 = spreads.iter().sum();
        (!spreads.is_empty())
            .then(|| sum / spreads.len() as f64 + 10.0 * (tracks.len() - 1 - spreads.len()) as f64)
    };
    (0..tracks.len())
        .filter_map(|n| strays(n).map(|strays| (n, strays)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(n, _)| n)
}

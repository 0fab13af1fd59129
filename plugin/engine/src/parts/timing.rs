//! Timing: who is late, who is loose, and what that costs.
//!
//! Every part's onsets are paired with those of a reference: the drums, be they one part or several, or
//! the part that agrees best with the others where no drums are given. Constant offset and spread are read apart,
//! since players set the first on purpose and listeners mind the second (Senn et al. 2016). The
//! cost is counterfactual: the parts' powers are moved, event by event, to where they would be
//! without the spread, without the offset, or without both, and their sum is measured again.

mod against;
mod attacks;
mod beats;
mod deviation;
mod edits;
mod moves;
mod pairing;
mod shifted;
mod wave;

pub use against::audible_ms;
pub use attacks::Summed;
pub(crate) use beats::Beats;
pub use deviation::{Deviation, PASSAGE_S, Passage, SHARED_LEAST, Stray, TELLABLE_MS};
pub use edits::{Edit, edits};

use super::{HitGain, PartRole, PartTrack, gain};
use crate::parts::cost::{self, Places};
use crate::parts::sum::cells_between;
use crate::thresholds::HIT_CONTRAST_DB;
use crate::{Cost, Need, PartLeak, State, Thresholds};
use against::{Against, against, cells, first_frame, powers, times_s};
use attacks::{levels, struck, summed};
use beats::reference;
pub(crate) use moves::gained;
use moves::{Event, Moving, Pile, Version, Without, version};
use wave::Wave;

pub use crate::thresholds::timing::{AUDIBLE_DRUMS_MS, AUDIBLE_MS, AUDIBLE_SHARE};

/// What is read of the timing of a session's parts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TimingReading {
    /// State, need and cost. The cost is that of spread and offset together, dB of hit contrast; that
    /// of the attacks is what those lose that parts share, with the drums or among themselves,
    /// whichever is more.
    pub leak: PartLeak,
    /// Index of the track that the others are read against.
    pub reference: Option<usize>,
    /// Other drums, the strokes of which count with those of the reference where it has none.
    pub joined: Vec<usize>,
    /// Deviation of each track from the reference; `None` for the reference itself, where too few
    /// events are shared, and where the rhythm is another.
    pub parts: Vec<Option<Deviation>>,
    /// How late each track is that comes later than [`OWN_MS`] with nearly all it plays, ms: by
    /// latency, perhaps. `None` of all others, and where it plays between the drums' steps.
    pub beyond_ms: Vec<Option<f64>>,
    /// Hit contrast that would come back without the spread alone, dB.
    pub spread_cost: Option<Cost>,
    /// Hit contrast that would come back without the offset alone, dB.
    pub offset_cost: Option<Cost>,
    /// What each track alone costs, dB of hit contrast.
    pub part_costs_db: Vec<Option<f64>>,
    /// What each stroke of the reference that stands out in the sum of the parts, and each of its main
    /// ones, would get back without spread and offset: the cost is their median.
    pub gains: Vec<HitGain>,
    /// The level of the summed attacks of all parts but the drums.
    pub summed: Summed,
    /// The level of the attacks of all parts, the drums among them, at the main hits with which
    /// another part strikes.
    pub struck: Summed,
    /// The strokes of each track against the reference; empty for the reference and where it is not
    /// known.
    pub strays: Vec<Vec<Stray>>,
    /// Parts of one role, and left and right of one part, against each other.
    pub doubles: Vec<Double>,
}

/// Two takes that mean the same riff.
#[derive(Clone, Debug, PartialEq)]
pub struct Double {
    /// Index of the first track.
    pub first: usize,
    /// Index of the second; the same as the first for left against right of one track.
    pub second: usize,
    /// Deviation of the second from the first, or of right from left.
    pub deviation: Deviation,
    /// What the sum of the two would gain.
    pub summed: Summed,
}

/// Least share of the events of the sparser of two parts that must be shared for them to be
/// doubles. Ours.
const DOUBLE_SHARE: f64 = 0.6;
/// Least share of a part's strokes, where the reference plays, that must belong to strokes of the
/// reference for what listeners hear of it to be looseness. Ours: as for doubles and for parts beyond.
const TOGETHER_SHARE: f64 = 0.6;

/// Reads the timing of a session's tracks. What the hits lose is counted at `places`, cells from the first
/// one of the tracks; at the reference's strokes where none are given.
#[must_use]
pub fn read(
    tracks: &[PartTrack],
    thresholds: &Thresholds,
    places: Option<&Places>,
) -> TimingReading {
    let mut reading = TimingReading {
        parts: vec![None; tracks.len()],
        beyond_ms: vec![None; tracks.len()],
        strays: vec![Vec::new(); tracks.len()],
        part_costs_db: vec![None; tracks.len()],
        doubles: doubles(tracks),
        ..TimingReading::default()
    };
    let need = |shared: usize| match tracks.len() {
        0 | 1 => Need::Parts,
        _ => Need::Shared { have: shared as u32, want: SHARED_LEAST as u32 },
    };
    reading.leak.need = need(0);
    let Some(reference) = reference(tracks) else { return reading };
    reading.reference = Some(reference);
    let first = first_frame(tracks);
    let beats = Beats::new(tracks, reference);
    reading.joined.clone_from(&beats.joined);
    let hits: Vec<(f64, bool)> = beats.cells().map(|cell| (cell, true)).collect();
    let mut moving = vec![Moving::default(); tracks.len()];
    let mut few = 0;
    for (index, track) in tracks.iter().enumerate() {
        moving[index].powers = powers(track, first);
        if index == reference {
            continue;
        }
        match beats.against(track, first) {
            Against::Strays(deviation, events) => {
                reading.strays[index] = strays(track, first, &deviation, &events);
                moving[index].events = events;
                reading.parts[index] = Some(deviation);
            }
            Against::Beyond(offset_ms) => reading.beyond_ms[index] = offset_ms,
            Against::Few(shared) => few = few.max(shared),
        }
    }
    if reading.parts.iter().all(Option::is_none) {
        reading.leak.need = need(few);
        return reading;
    }
    let main = beats.main();
    let track = &tracks[reference];
    // Two strings that are struck on one note never meet as closely as their onsets are placed: among
    // themselves their attacks add up in power.
    reading.summed = summed(&moving, &hits, &beats, |n| tracks[n].role != PartRole::Drums);
    let with_drums = track.role == PartRole::Drums;
    if !with_drums {
        reading.struck = struck(&moving, &hits, &main, &beats);
    }
    for (index, track) in tracks.iter().enumerate() {
        let ahead = cells_between(first, track);
        moving[index].wave = Some(Wave::new(track, ahead, &reading.strays[index]));
    }
    if with_drums {
        reading.struck = struck(&moving, &hits, &main, &beats);
    }
    // In the mix only parts that move do so among themselves: which way they meet the drums, and others,
    // hangs on less than an onset is located to.
    for (index, part) in moving.iter_mut().enumerate() {
        let moves = !part.events.is_empty() || (index == reference && !with_drums);
        part.wave = part.wave.take().filter(|_| moves);
    }
    let (places, times_s) = match places {
        Some(places) => {
            let time_s = |&n: &usize| {
                first as f64 / track.sample_rate_hz + places.strokes[n] as f64 * track.cell_s()
            };
            (places.clone(), places.counted.iter().map(time_s).collect())
        }
        None => own_places(&beats, &main, &version(&moving, &hits, Without::Nothing, |_| true)),
    };
    let gained_db = contrast_costs(&mut reading, &moving, &places);
    reading.gains = gain::gains(times_s, gained_db);
    reading.leak.attack = reading.shared_attack_cost();
    reading.judge(thresholds);
    reading
}

/// Every stroke of a track, with how late it is where the reference has one.
fn strays(track: &PartTrack, first: i64, deviation: &Deviation, events: &[Event]) -> Vec<Stray> {
    let start = (track.start_frame - first) as f64 / track.cell_frames.max(1) as f64;
    let cell_s = track.cell_s();
    let mut known = events.iter().peekable();
    cells(track, first)
        .into_iter()
        .map(|cell| {
            let event = known.next_if(|event| event.cell == cell);
            Stray {
                at_s: (cell - start) * cell_s,
                late_ms: event.map_or(deviation.offset_ms, |event| event.late * cell_s * 1e3),
                offset_ms: deviation.offset_ms,
                hit: event.map(|event| event.hit),
            }
        })
        .collect()
}

/// The strokes of the reference in the sum as it is, and their times, s: as in a mix, those that stand out
/// count, and of those that do not the main ones.
fn own_places(beats: &Beats, main: &[bool], now: &Version) -> (Places, Vec<f64>) {
    let now_db = now.contrasts_db();
    let counts = |n: &usize| main[*n] || now_db[*n] >= HIT_CONTRAST_DB;
    let counted: Vec<usize> = (0..now_db.len()).filter(counts).collect();
    let times_s = beats.times_s();
    let times_s = counted.iter().map(|&n| times_s[n]).collect();
    (Places { strokes: now.hits().to_vec(), counted }, times_s)
}

/// Costs in hit contrast at the `places` that count; gives what each gets back without spread and offset,
/// dB.
fn contrast_costs(reading: &mut TimingReading, moving: &[Moving], places: &Places) -> Vec<f64> {
    let pile = |without| {
        let mut pile = Pile::default();
        moving.iter().for_each(|part| pile.add(part, without));
        pile
    };
    let gained = |now: &Pile, then: &Pile| -> Vec<f64> {
        let [now, then] = [now, then].map(|pile| places.contrasts_db(&pile.sum()));
        then.iter().zip(&now).map(|(then, now)| then - now).collect()
    };
    let now = pile(Without::Nothing);
    let both = gained(&now, &pile(Without::Both));
    reading.leak.cost = cost::cost(&both);
    reading.spread_cost = cost::cost(&gained(&now, &pile(Without::Spread)));
    reading.offset_cost = cost::cost(&gained(&now, &pile(Without::Offset)));
    for (index, part) in moving.iter().enumerate().filter(|(_, part)| !part.events.is_empty()) {
        // Which way it meets the others is as little known.
        let mut others = now.clone();
        others.take_out(part);
        let part = Moving { wave: None, ..part.clone() };
        let with = |without| {
            let mut all = others.clone();
            all.add(&part, without);
            all
        };
        let alone = gained(&with(Without::Nothing), &with(Without::Both));
        reading.part_costs_db[index] = cost::cost(&alone).map(|cost| cost.db);
    }
    both
}

impl TimingReading {
    /// What the attacks lose that parts share, dB: with the drums or among themselves, whichever is
    /// more, since loud drums hide what the others lose, and others that are late together lose
    /// nothing among themselves. The mean over these attacks: they are no hits of the mix, and loose
    /// playing takes from some of them only.
    #[must_use]
    pub fn shared_attack_cost(&self) -> Option<Cost> {
        let both = [self.summed.both, self.struck.both];
        both.into_iter().flatten().max_by(|a, b| a.db.total_cmp(&b.db))
    }

    /// The largest share of a part's shared notes that come further from the reference than listeners
    /// hear, and which part that is.
    #[must_use]
    pub fn most_audible(&self) -> Option<(usize, f64)> {
        // A part that strikes with the reference now and then plays another rhythm, and is not loose.
        let with_it = |part: &Deviation| part.shared as f64 >= TOGETHER_SHARE * part.played as f64;
        let parts = self.parts.iter().enumerate();
        parts
            .filter_map(|(n, part)| part.as_ref().map(|part| (n, part)))
            .filter(|(_, part)| with_it(part))
            .map(|(n, part)| (n, part.audible_share))
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Sets the state: by what the hits or the shared attacks lose, whichever is more, and to
    /// [`State::Watch`] at least where listeners hear it.
    pub fn judge(&mut self, thresholds: &Thresholds) {
        let Some(cost) = self.leak.cost else { return };
        let most_db = cost.db.max(self.leak.attack.map_or(0.0, |attack| attack.db));
        let heard = self.most_audible().is_some_and(|(_, share)| share >= AUDIBLE_SHARE);
        self.leak.need = Need::Nothing;
        self.leak.state = match thresholds.state(most_db) {
            State::Clear if heard => State::Watch,
            state => state,
        };
    }
}

/// Doubles among the tracks.
fn doubles(tracks: &[PartTrack]) -> Vec<Double> {
    let mut found = Vec::new();
    for (first, track) in tracks.iter().enumerate() {
        if let [left, right] = &track.sides[..] {
            found.extend(double(first, left, first, right));
        }
        for (second, other) in tracks.iter().enumerate().skip(first + 1) {
            if other.role == track.role
                && matches!(track.role, PartRole::Guitars | PartRole::Vocals | PartRole::Bass)
            {
                found.extend(double(first, track, second, other));
            }
        }
    }
    found
}

fn double(first: usize, a: &PartTrack, second: usize, b: &PartTrack) -> Option<Double> {
    let start = a.start_frame.min(b.start_frame);
    let (deviation, events) = against(b, &times_s(a), start).strays()?;
    let fewest = a.strokes().count().min(b.strokes().count());
    if (deviation.shared as f64) < DOUBLE_SHARE * fewest as f64 {
        return None;
    }
    let hits: Vec<(f64, bool)> = cells(a, start).into_iter().map(|cell| (cell, false)).collect();
    let still: Vec<Event> = hits
        .iter()
        .enumerate()
        .map(|(hit, &(cell, _))| Event { cell, hit, ..Event::default() })
        .collect();
    let mut count = vec![1usize; hits.len()];
    events.iter().for_each(|event| count[event.hit] += 1);
    let parts = [
        Moving { powers: powers(a, start), events: still, wave: None },
        Moving { powers: powers(b, start), events, wave: None },
    ];
    Some(Double { first, second, deviation, summed: levels(&parts, &hits, &count) })
}

#[cfg(test)]
mod tests;

//! The clutter leak: layers that hold through the hits, and rhythms of their own.
//!
//! Two things fill the space between hits, and each is taken out as an engineer would ([`Change`]).
//! A *layer* holds through most of the main hits without striking them: it is not played, whoever
//! plays it, so its cost is what muting it gives back, which is little where it is quiet. A part with
//! a *rhythm of its own* strikes neither at the main hits nor with them: its notes are played with
//! the drums, not left out. That costs little, and yet too many rhythms at once are heard before
//! anything else ([`ClutterReason::Rhythms`]): the state goes by both. A dense part that strikes with the
//! drums loses nothing by this. Voices are left alone: a voice has its own rhythm by right. The bass
//! is no layer: one line that holds under a song is its floor.

mod held;
mod locks;
mod plan;
mod rhythm;

use super::cost::{Arrangement, cost};
use super::{HitGain, PartRole, PartTrack};
use crate::thresholds::arrangement as l;
use crate::{Cost, Need, PartLeak, State, Thresholds, surround};

pub use locks::Lock;
pub use plan::Change;
pub use rhythm::{Shared, shared};

/// The clutter of a session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clutter {
    /// State and cost of all clutter together.
    pub leak: PartLeak,
    /// What each main hit would get back without it: the cost is their median.
    pub gains: Vec<HitGain>,
    /// One row a part.
    pub rows: Vec<ClutterRow>,
    /// Parts other than drums that sound at a main hit, mean over hits.
    pub layers_at_hits: Option<f64>,
    /// The part to see to first, by number: the one that costs most by itself, or where the rhythms
    /// are what is heard, the one that strikes least with the drums. `None` where there is none.
    pub worst: Option<usize>,
    /// Parts with a rhythm besides the drums', by number; those that share one stand together.
    pub own_rhythms: Vec<Vec<usize>>,
    /// What the state goes by. `None` where it is clear or unknown.
    pub reason: Option<ClutterReason>,
    /// How parts change for the clutter to go, by number of the part.
    pub changes: Vec<(usize, Change)>,
}

/// What makes clutter worth an eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClutterReason {
    /// What it costs.
    Cost,
    /// Too many rhythms at once, whatever they cost.
    Rhythms,
}

/// What one part does between the hits. `None` is *not known*.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClutterRow {
    /// Onsets shared with the drums over onsets of either, 0 to 1: one to one, within
    /// [`l::SHARED_MS`], the part's constant offset taken out.
    pub shared_onset_ratio: Option<f64>,
    /// Share of the part's onsets further than [`l::SHARED_MS`] from any drum hit, 0 to 1.
    pub own_rhythm: Option<f64>,
    /// Mean power in the space between main hits ([`l::SPACE_FROM_MS`] to [`l::SPACE_TO_MS`]
    /// behind one, up to the next) over that of the loudest 10 ms in the first 30 ms of the main
    /// hits; 0 to 1, over hits at which the part sounds.
    pub sustain_ratio: Option<f64>,
    /// Share of the main hits that the part holds through without striking, 0 to 1.
    pub held_share: Option<f64>,
    /// How it strikes with the drums' main hits. `None` of voices, and with too few notes.
    pub lock: Option<Lock>,
    /// Cost of this part's clutter alone, dB of hit contrast, with its range.
    pub cost: Option<Cost>,
}

/// Reads the clutter of a session.
#[must_use]
pub fn read(arrangement: &Arrangement, limits: &Thresholds) -> Clutter {
    let parts = arrangement.parts();
    let others = || (0..parts).filter(|&part| arrangement.role(part) != PartRole::Drums);
    let main = arrangement.main_hits().len();
    let mut clutter = Clutter { rows: vec![ClutterRow::default(); parts], ..Clutter::default() };
    if !arrangement.has_drums() || others().next().is_none() {
        clutter.leak.need = Need::Parts;
        return clutter;
    }
    for part in others() {
        clutter.rows[part] = row(arrangement, part);
    }
    if main < l::LEAST_MAIN_HITS {
        clutter.leak.need = Need::Hits { have: main as u32, want: l::LEAST_MAIN_HITS as u32 };
        return clutter;
    }
    clutter.layers_at_hits = Some(layers_at_hits(arrangement));
    let locks: Vec<Option<Lock>> = clutter.rows.iter().map(|row| row.lock).collect();
    let held: Vec<Option<f64>> = clutter.rows.iter().map(|row| row.held_share).collect();
    clutter.own_rhythms = locks::own_rhythms(arrangement, &locks);
    clutter.changes = plan::changes(arrangement, &locks, &held);
    let changes = changed(arrangement, &clutter.changes);
    for part in others() {
        clutter.rows[part].cost = Some(Cost::default());
    }
    for change in &changes {
        clutter.rows[change.0].cost = arrangement.cost(std::slice::from_ref(change));
    }
    let gains_db = arrangement.gains_db(&changes);
    clutter.gains = arrangement.gains_at(&gains_db);
    clutter.leak.cost = Some(cost(&gains_db).unwrap_or_default());
    clutter.judge(limits);
    clutter
}

/// The powers of the parts that change, for [`Arrangement::gains_db`].
fn changed(arrangement: &Arrangement, changes: &[(usize, Change)]) -> Vec<(usize, Vec<f32>)> {
    let cell_s = arrangement.cell_ms() * 1e-3;
    changes
        .iter()
        .map(|(part, change)| {
            (*part, change.power(arrangement.power(*part), arrangement.start(*part), cell_s))
        })
        .collect()
}

impl Clutter {
    /// Sets state, reason and worst part from the costs and the rhythms.
    pub fn judge(&mut self, limits: &Thresholds) {
        let Some(total) = self.leak.cost else { return };
        let locks: Vec<Option<Lock>> = self.rows.iter().map(|row| row.lock).collect();
        let by_cost = state(&total, limits);
        let rhythms = locks::too_many(&self.own_rhythms, &locks);
        self.leak.need = Need::Nothing;
        (self.leak.state, self.reason) = match by_cost {
            State::Clear if rhythms => (State::Watch, Some(ClutterReason::Rhythms)),
            State::Watch | State::Leaking => (by_cost, Some(ClutterReason::Cost)),
            State::Clear | State::Unknown => (by_cost, None),
        };
        let own = |part: usize| self.rows[part].cost.map_or(0.0, |cost| cost.db);
        let strikes =
            |part: usize| self.rows[part].lock.map_or(1.0, |lock| lock.notes.max(lock.hits));
        let apart = self.own_rhythms.iter().flatten().copied();
        self.worst = match self.reason {
            Some(ClutterReason::Rhythms) => {
                apart.min_by(|&a, &b| strikes(a).total_cmp(&strikes(b)))
            }
            _ => (0..self.rows.len())
                .filter(|&part| own(part) > 0.0)
                .max_by(|&a, &b| own(a).total_cmp(&own(b))),
        };
    }
}

/// The state that a cost has by the limits alone.
pub(super) fn state(cost: &Cost, limits: &Thresholds) -> State {
    limits.state(cost.db)
}

fn row(arrangement: &Arrangement, part: usize) -> ClutterRow {
    let shared = (arrangement.onsets(part).len() >= l::LEAST_ONSETS)
        .then(|| shared(arrangement.hits(), arrangement.onsets(part), arrangement.cell_ms()));
    ClutterRow {
        shared_onset_ratio: shared.map(|shared| shared.ratio),
        own_rhythm: shared.map(|shared| shared.own),
        sustain_ratio: sustain_ratio(arrangement, part),
        held_share: held::share(arrangement, part),
        lock: locks::lock(arrangement, part),
        cost: None,
    }
}

/// See [`ClutterRow::sustain_ratio`].
fn sustain_ratio(arrangement: &Arrangement, part: usize) -> Option<f64> {
    let power = arrangement.power(part);
    let main: Vec<u64> = arrangement.main_hits().map(|hit| hit as u64).collect();
    let levels: Vec<f64> = main.iter().map(|&hit| surround::level(power, hit).0).collect();
    let most = levels.iter().fold(0.0f64, |most, &level| most.max(level));
    let least = most * 10f64.powf(-l::SOUNDS_DB / 10.0);
    let (mut at, mut hits, mut between, mut cells) = (0.0f64, 0u64, 0.0f64, 0u64);
    for (number, &hit) in main.iter().enumerate() {
        if levels[number] <= least {
            continue;
        }
        at += levels[number];
        hits += 1;
        let next = main.get(number + 1).map_or(u64::MAX, |next| next.saturating_sub(2));
        let to = (hit + l::SPACE_TO_MS).min(next).min(power.len() as u64);
        for cell in (hit + l::SPACE_FROM_MS).min(to)..to {
            between += f64::from(power[cell as usize]);
            cells += 1;
        }
    }
    (hits > 0 && cells > 0).then(|| ((between / cells as f64) / (at / hits as f64)).clamp(0.0, 1.0))
}

fn layers_at_hits(arrangement: &Arrangement) -> f64 {
    let share = 10f64.powf(-l::SOUNDS_DB / 10.0);
    let mut sounding = 0u64;
    for hit in arrangement.main_hits() {
        let whole = surround::level(arrangement.sum(), hit as u64).0;
        sounding += (0..arrangement.parts())
            .filter(|&part| arrangement.role(part) != PartRole::Drums)
            .filter(|&part| {
                let level = surround::level(arrangement.power(part), hit as u64).0;
                level > share * whole && level > 0.0
            })
            .count() as u64;
    }
    sounding as f64 / arrangement.main_hits().len().max(1) as f64
}

/// Reads the clutter of tracks as they are.
#[must_use]
pub fn of_tracks(tracks: &[PartTrack], limits: &Thresholds) -> Clutter {
    read(&Arrangement::new(tracks), limits)
}

//! The costs of a session, measured again on the audio of its parts.

use std::sync::Arc;

use super::{Change, Planes, Remix, add, levels_db};
use crate::parts::cost::{Arrangement, cost, median};
use crate::parts::retime::{self, Move};
use crate::parts::timing::{Beats, TimingReading};
use crate::parts::{PartRole, PartsReading, Session, drive};
use crate::thresholds::arrangement as l;
use crate::{PartLeak, Thresholds};

/// What has to be added to the mix so that a cause is gone from it, left and right, as long as the
/// mix. `None` where nothing has to change, or where that is not known.
#[derive(Clone, Debug, Default)]
pub struct Undone {
    /// Every part's strokes with the reference's.
    pub timing: Option<[Vec<f32>; 2]>,
    /// Layers that are not played, and rhythms of their own that are played with the drums.
    pub clutter: Option<[Vec<f32>; 2]>,
    /// Guitars with their own dynamics.
    pub drive: Option<[Vec<f32>; 2]>,
}

/// Measures every cost of `reading` again that is known, and sets the states by them. `load` gives
/// the audio of each part of the session, whose tracks start with the mix. What was measured on comes
/// back, to be heard.
///
/// Costs of single parts are measured with each part changed alone. What the spread and the offset
/// cost apart stays estimated.
///
/// # Errors
/// What `load` gives; the reading is then as it was.
pub fn measure<E>(
    session: &Session,
    reading: &mut PartsReading,
    limits: &Thresholds,
    remix: &Remix,
    load: &mut dyn FnMut(usize) -> Result<Arc<Planes>, E>,
) -> Result<Undone, E> {
    if remix.hits.len() < l::LEAST_MAIN_HITS {
        return Ok(Undone::default());
    }
    let arrangement = Arrangement::new(&session.tracks);
    let mut all = reading.clone();
    // What changes in the mix without each cause, and the parts that strike together.
    let [mut timing, mut clutter] = [(); 2].map(|()| remix.unchanged());
    // With what is read of the guitars' own attack, and with both ends of its range.
    let mut gain = drive::Kept::ALL.map(|_| remix.unchanged());
    let [mut shared, mut drums] = [(); 2].map(|()| remix.silence());
    for part in 0..session.tracks.len() {
        let planes = load(part)?;
        let is_drums = session.tracks[part].role == PartRole::Drums;
        let row = &mut all.rows[part];
        let mut silent = Vec::new();
        remix.rest(part, &planes, &[], &mut silent);
        // The part as it lies in the mix.
        let mut own = remix.silence();
        remix.faders[part].add(&planes, 1.0, &mut own);
        let turned = |gain: f32| {
            let rest: Vec<f32> = silent.iter().map(|power| power * (1.0 - gain * gain)).collect();
            median(&mut remix.gains_with((&own, gain - 1.0), &rest))
        };
        row.if_muted_db = Some(turned(0.0));
        row.if_3db_lower_db = Some(turned(10f32.powf(-l::LOWER_DB as f32 / 20.0)));
        let strikes = all.timing.reference == Some(part) || !all.timing.strays[part].is_empty();
        if is_drums || strikes {
            let to = if is_drums { &mut drums } else { &mut shared };
            to.iter_mut().zip(&own).for_each(|(to, own)| add(to, own));
        }
        let moves = moves(&all.timing, part);
        if !moves.is_empty() && !is_drums {
            let moved = retime::audio(&planes, remix.rate_hz, &moves);
            let alone = remix.exchanged(part, &planes, &moved);
            let cost = cost(&remix.moved_gains_db(&own, &alone));
            timing.add(&alone);
            row.costs.timing_db = cost.map(|cost| cost.db);
            all.timing.part_costs_db[part] = row.costs.timing_db;
        }
        if let Some((_, change)) = all.clutter.changes.iter().find(|change| change.0 == part) {
            let changed = change.audio(&planes, remix.rate_hz);
            let alone = remix.exchanged(part, &planes, &changed);
            let cost = cost(&remix.gains_db(&alone));
            clutter.add(&alone);
            row.costs.clutter_db = cost.map(|cost| cost.db);
            all.clutter.rows[part].cost = cost;
        }
        if all.drive.rows[part].saturation.is_some() {
            let mut gains_db = drive::Kept::ALL.map(|_| vec![0.0; remix.hits.len()]);
            for ((which, gains_db), change) in
                drive::Kept::ALL.into_iter().zip(&mut gains_db).zip(&mut gain)
            {
                let Some(power) = drive::less_gain(&arrangement, &all.drive, part, which) else {
                    continue;
                };
                let start = arrangement.start(part);
                let before = &arrangement.power(part)[start..];
                let changed = retime::levelled(&planes, remix.cell_frames, before, &power[start..]);
                let alone = remix.exchanged(part, &planes, &changed);
                *gains_db = remix.gains_db(&alone);
                change.add(&alone);
            }
            let cost = drive::cost_with_range(&gains_db);
            row.costs.drive_db = cost.map(|cost| cost.db);
            all.drive.rows[part].cost = cost;
        }
    }
    let again = |leak: &mut PartLeak, gains_db: Vec<f64>| {
        leak.cost = leak.cost.and(cost(&gains_db));
        leak.measured = leak.cost.is_some();
        remix.gains_at(gains_db)
    };
    if all.timing.leak.cost.is_some() {
        all.timing.gains = again(&mut all.timing.leak, remix.moved_gains_db(&shared, &timing));
        shared_attacks(session, &mut all.timing, remix, [&shared, &drums, &timing.audio]);
        all.timing.leak.attack = all.timing.shared_attack_cost();
        all.timing.judge(limits);
    }
    if all.clutter.leak.cost.is_some() {
        all.clutter.gains = again(&mut all.clutter.leak, remix.gains_db(&clutter));
        all.clutter.judge(limits);
    }
    if all.drive.rows.iter().any(|row| row.saturation.is_some()) {
        let gains_db = gain.each_ref().map(|change| remix.gains_db(change));
        let cost = drive::cost_with_range(&gains_db);
        all.drive.judge(limits);
        all.drive.set_hits_cost(cost);
        all.drive.leak.measured = cost.is_some();
        let [read, ..] = gains_db;
        let known = if cost.is_some() { read } else { Vec::new() };
        all.drive.gains = remix.gains_at(known);
    }
    let [gain, ..] = gain;
    *reading = all;
    let kept = |leak: &PartLeak, Change { audio, .. }| {
        let changes = audio.iter().any(|side| side.iter().any(|x| *x != 0.0));
        (leak.cost.is_some() && changes).then_some(audio)
    };
    Ok(Undone {
        timing: kept(&reading.timing.leak, timing),
        clutter: kept(&reading.clutter.leak, clutter),
        drive: kept(&reading.drive.leak, gain),
    })
}

impl Remix {
    /// What putting `changed` in the place of a part's `planes` changes.
    fn exchanged(&self, part: usize, planes: &[Vec<f32>], changed: &[Vec<f32>]) -> Change {
        let mut alone = self.unchanged();
        self.faders[part].add(changed, 1.0, &mut alone.audio);
        self.faders[part].add(planes, -1.0, &mut alone.audio);
        self.rest(part, planes, changed, &mut alone.rest);
        alone
    }
}

/// A part's strokes, each to where the reference has it.
fn moves(timing: &TimingReading, part: usize) -> Vec<Move> {
    timing.strays[part]
        .iter()
        .map(|stray| Move {
            from_s: stray.at_s,
            to_s: (stray.at_s - stray.late_ms * 1e-3).max(0.0),
        })
        .collect()
}

/// Levels of the attacks that parts share, as they are and with the parts moved.
fn shared_attacks(
    session: &Session,
    timing: &mut TimingReading,
    remix: &Remix,
    [shared, drums, moved]: [&[Vec<f32>; 2]; 3],
) {
    let Some(reference) = timing.reference else { return };
    let track = &session.tracks[reference];
    let beats = Beats::new(&session.tracks, reference);
    let (hits, main) = (beats.times_s(), beats.main());
    let cells = |s: f64| (s.max(0.0) * remix.rate_hz / remix.cell_frames as f64) as u64;
    let sum = |of: &[&[Vec<f32>; 2]]| -> Vec<f32> {
        remix.sum_cells(&of.iter().map(|audio| (*audio, 1.0)).collect::<Vec<_>>())
    };
    let with_drums = track.role == PartRole::Drums;
    for among_themselves in [true, false] {
        // Strokes of each hit: where they are, and where they go.
        let mut strokes: Vec<Vec<(f64, f64)>> = hits
            .iter()
            .map(|&at| if with_drums && among_themselves { vec![] } else { vec![(at, at)] })
            .collect();
        for (part, strays) in timing.strays.iter().enumerate() {
            if session.tracks[part].role != PartRole::Drums {
                for stray in strays {
                    if let Some(strokes) = stray.hit.and_then(|hit| strokes.get_mut(hit)) {
                        strokes.push((stray.at_s, stray.at_s - stray.late_ms * 1e-3));
                    }
                }
            }
        }
        let counts: Vec<usize> = (0..hits.len())
            .filter(|&n| strokes[n].len() >= 2 && (among_themselves || main[n]))
            .collect();
        let spans = |of: fn(&(f64, f64)) -> f64| -> Vec<(u64, u64)> {
            let span = |n: usize| {
                let times = || strokes[n].iter().map(of);
                let (first, last) =
                    (times().fold(f64::INFINITY, f64::min), times().fold(0.0, f64::max));
                (cells(first), cells(last))
            };
            counts.iter().map(|&n| span(n)).collect()
        };
        let (now, then) = if among_themselves {
            (sum(&[shared]), sum(&[shared, moved]))
        } else {
            (sum(&[shared, drums]), sum(&[shared, drums, moved]))
        };
        let now = levels_db(&now, &spans(|stroke| stroke.0));
        let then = levels_db(&then, &spans(|stroke| stroke.1));
        let summed = if among_themselves { &mut timing.summed } else { &mut timing.struck };
        if summed.both.is_some() {
            summed.both = crate::parts::timing::gained(&now, &then);
        }
    }
}

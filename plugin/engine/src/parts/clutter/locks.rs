//! Which parts strike with the drums, and how many rhythms there are besides theirs.
//!
//! What counts are the drums' main hits: a hi-hat on every sixteenth is struck by everything. A part
//! is *with the drums* where its notes fall on main hits, or where it strikes at most of the main
//! hits, whatever else it plays. Parts that do neither have a rhythm of their own; those that play it
//! together have one.

use super::rhythm::{nearest, offset, shared};
use crate::parts::PartRole;
use crate::parts::cost::Arrangement;
use crate::thresholds::arrangement as l;

/// How a part's strokes lie against the drums' main hits.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lock {
    /// Share of the part's notes at a main hit, 0 to 1: within [`l::SHARED_MS`], the part's constant
    /// offset taken out.
    pub notes: f64,
    /// Share of the main hits that the part strikes, of those near which it plays, 0 to 1.
    pub hits: f64,
}

impl Lock {
    /// Whether the part strikes with the drums.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.notes.max(self.hits) >= l::LOCKED_SHARE
    }
}

/// How a part lies against the drums; `None` of drums and voices, which have their rhythm by right,
/// and with too few notes.
pub(super) fn lock(arrangement: &Arrangement, part: usize) -> Option<Lock> {
    let onsets = arrangement.onsets(part);
    let main: Vec<f64> = arrangement.main_hits().collect();
    let judged = !matches!(arrangement.role(part), PartRole::Drums | PartRole::Vocals);
    if !judged || onsets.len() < l::LEAST_ONSETS || main.len() < l::LEAST_MAIN_HITS {
        return None;
    }
    let cell_ms = arrangement.cell_ms();
    let offset = offset(&main, onsets, cell_ms);
    let placed: Vec<f64> = onsets.iter().map(|at| at - offset).collect();
    let near = |of: &[f64], at: f64, ms: f64| nearest(of, at).abs() * cell_ms <= ms;
    let at_hits = placed.iter().filter(|&&at| near(&main, at, l::SHARED_MS)).count();
    let playing: Vec<f64> =
        main.iter().copied().filter(|&hit| near(&placed, hit, l::PLAYS_NEAR_MS)).collect();
    let struck = playing.iter().filter(|&&hit| near(&placed, hit, l::SHARED_MS)).count();
    Some(Lock {
        notes: at_hits as f64 / placed.len() as f64,
        hits: struck as f64 / playing.len().max(1) as f64,
    })
}

/// The rhythms besides the drums': parts that share one, by number.
pub(super) fn own_rhythms(arrangement: &Arrangement, locks: &[Option<Lock>]) -> Vec<Vec<usize>> {
    let mut rhythms: Vec<Vec<usize>> = Vec::new();
    let apart = |part: &usize| locks[*part].is_some_and(|lock| !lock.holds());
    for part in (0..arrangement.parts()).filter(apart) {
        let onsets = |part: usize| arrangement.onsets(part);
        let same = rhythms.iter_mut().find(|rhythm| {
            rhythm.iter().any(|&other| {
                let shared = shared(onsets(other), onsets(part), arrangement.cell_ms());
                shared.ratio >= l::DOUBLED_SHARE
            })
        });
        match same {
            Some(rhythm) => rhythm.push(part),
            None => rhythms.push(vec![part]),
        }
    }
    rhythms
}

/// Whether so many rhythms are heard as clutter: two or more besides the drums', or one that the
/// whole band of two parts or more plays against them.
pub(super) fn too_many(rhythms: &[Vec<usize>], locks: &[Option<Lock>]) -> bool {
    let parts: usize = rhythms.iter().map(Vec::len).sum();
    let with_drums = locks.iter().flatten().any(Lock::holds);
    rhythms.len() >= l::OWN_RHYTHMS || (parts >= l::OWN_RHYTHMS && !with_drums)
}

//! The ceiling leak, measured against the mix before the limiter.

use crate::thresholds::{self as t, compare};
use crate::{Ceiling, CeilingKind, Compare, Cost, Need, Relation, SideRole, State, Thresholds};

/// The leak as the comparison shows it; `None` while there are too few compared hits. `blind` is
/// what the mix alone shows: it tells a clipper from a limiter.
pub(crate) fn measured(compare: &Compare, blind: &Ceiling, limits: &Thresholds) -> Option<Ceiling> {
    let found = compare.role == SideRole::Before
        && compare.alignment.relation == Relation::Found
        && compare.hits >= compare::COMPARED_LEAST_HITS;
    let (median, p90) = (compare.reduction_db_median?, compare.reduction_db_p90?);
    let most = compare.reduction_db_max?;
    let half = compare.gain_range_db?;
    if !found {
        return None;
    }
    let unseen = if compare.limiter_rests == Some(false) { compare::GAIN_UNSEEN_DB } else { 0.0 };
    let reduction = |db: f64| db.max(0.0);
    let limited = most > compare::REDUCED_DB + half;
    let kind = match (limited, blind.kind) {
        (false, _) => CeilingKind::None,
        (true, Some(CeilingKind::Clipper)) => CeilingKind::Clipper,
        (true, _) => CeilingKind::Limiter,
    };
    // What the limiter took from the contrast of the same hits would come back without it.
    let lost = -compare.contrast_difference_db?;
    let (low, high) = compare.contrast_difference_range_db?;
    let cost = Cost { db: reduction(lost), low_db: reduction(-high), high_db: reduction(-low) };
    let state = match limits.state(cost.db) {
        _ if !limited => State::Clear,
        State::Clear if p90 >= t::CATCHES_LOUDEST_DB => State::Watch,
        state => state,
    };
    Some(Ceiling {
        state,
        need: Need::Nothing,
        cost: Some(cost),
        implied_reduction_db: Some(reduction(median)),
        implied_reduction_p90_db: Some(reduction(p90)),
        implied_reduction_max_db: Some(reduction(most)),
        implied_reduction_range_db: Some((
            reduction(median - half),
            reduction(median + half + unseen),
        )),
        kind: Some(kind),
        at_least: false,
        measured: true,
        ..*blind
    })
}

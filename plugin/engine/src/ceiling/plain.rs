//! Limiting that needs no hits to be seen: so little is left of the peaks that no mix is like it
//! without a limiter, and so little of the hits that there are too few to estimate anything from.

use crate::thresholds as t;
use crate::{Balance, Ceiling, CeilingKind, Cost, Loudness, Need, State, Thresholds};

/// The leak where `blind` lacks hits and the peaks over the loudness of the whole programme, of which
/// `programme_s` seconds were heard, say that it is limited: at least so much, and how much more is
/// not known. `None` otherwise.
pub(crate) fn plainly_limited(
    blind: &Ceiling,
    loudness: &Loudness,
    balance: &Balance,
    programme_s: f64,
    limits: &Thresholds,
) -> Option<Ceiling> {
    let Need::Hits { have, .. } = blind.need else { return None };
    let plr_db = loudness.plr_db?;
    let plain = have >= t::PLAINLY_LEAST_HITS
        && programme_s >= t::PLAINLY_LEAST_S
        && plr_db <= t::PLAINLY_PLR_DB
        && is_a_whole_mix(balance)?;
    if !plain {
        return None;
    }
    let least = t::UNLIMITED_PLR_DB - plr_db;
    let share = t::LIMITER_COST_SHARE;
    let cost = Cost {
        db: least * share,
        low_db: least * share * t::COST_SHARE_RANGE.0,
        high_db: t::DEEPEST_SEEN_DB.max(least) * share * t::COST_SHARE_RANGE.1,
    };
    let state = if cost.high_db < limits.watch_db {
        State::Clear
    } else if cost.db >= limits.leaking_db {
        State::Leaking
    } else {
        State::Watch
    };
    Some(Ceiling {
        state,
        need: Need::Nothing,
        cost: Some(cost),
        implied_reduction_range_db: Some((least, t::DEEPEST_SEEN_DB.max(least))),
        at_least: true,
        kind: Some(CeilingKind::Limiter),
        ..*blind
    })
}

/// Whether the bands lie over the long-term curve as those of finished records do: a tone, a pad or a
/// bass alone has little left of its peaks, too. `None` without a balance.
fn is_a_whole_mix(balance: &Balance) -> Option<bool> {
    let bands = [balance.low_db?, balance.mid_db?, balance.high_db?];
    let within = |(db, (low, high)): (f64, (f64, f64))| (low..=high).contains(&db);
    Some(bands.into_iter().zip(t::RECORDS_BANDS_DB).all(within))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(plr_db: f64, high_db: f64, have: u32, programme_s: f64) -> Option<Ceiling> {
        let need = Need::Hits { have, want: t::CEILING_LEAST_HITS };
        let blind = Ceiling { need, ..Ceiling::default() };
        let loudness = Loudness { plr_db: Some(plr_db), ..Loudness::default() };
        let balance = Balance {
            low_db: Some(0.0),
            mid_db: Some(0.0),
            high_db: Some(high_db),
            ..Balance::default()
        };
        plainly_limited(&blind, &loudness, &balance, programme_s, &Thresholds::default())
    }

    /// Closed form: at least the PLR that is gone of the lowest that an unlimited mix has; nothing is
    /// said of a mix with its peaks, of a tone alone, of silence between, and of a short passage.
    #[test]
    fn at_least_what_the_plr_lacks() {
        let read = heard(5.5, 0.0, 5, 20.0).expect("plainly limited");
        let (low, high) = read.implied_reduction_range_db.expect("a range");
        assert!((low - (t::UNLIMITED_PLR_DB - 5.5)).abs() < 1e-9, "{low}");
        assert!(high >= 9.0 && read.at_least && read.state == State::Leaking, "{read:?}");
        assert_eq!((read.implied_reduction_db, read.need), (None, Need::Nothing));
        for (plr_db, high_db, have, programme_s) in
            [(9.0, 0.0, 5, 20.0), (5.5, -30.0, 5, 20.0), (5.5, 0.0, 0, 20.0), (5.5, 0.0, 5, 5.0)]
        {
            assert_eq!(
                heard(plr_db, high_db, have, programme_s),
                None,
                "{plr_db} {high_db} {have}"
            );
        }
    }
}

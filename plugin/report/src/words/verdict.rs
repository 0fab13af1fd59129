//! The one line that answers: is it hitting, and what eats it?

use brunt_engine::thresholds::CATCHES_LOUDEST_DB;
use brunt_engine::{LeakKind, Readings, State};

use super::evidence::{GATE_LUFS, cost};
use super::leak_name;
use super::number::{count, span, value};

/// One line: how far the hits stand out, and the leak that costs most.
#[must_use]
pub fn verdict(readings: &Readings) -> String {
    let range = match (readings.punch.contrast_p10_db, readings.punch.contrast_p90_db) {
        (Some(low), Some(high)) => format!(" ({} {})", super::PERCENTILES, span(low, high, "dB")),
        _ => String::new(),
    };
    with_range(readings, &range)
}

/// The same without the range, for where it has no room.
#[must_use]
pub fn short_verdict(readings: &Readings) -> String {
    with_range(readings, "")
}

/// `range`: what follows the median.
fn with_range(readings: &Readings, range: &str) -> String {
    let hits = match (&readings.punch, readings.loudness.integrated_lufs) {
        (punch, _) if punch.contrast_db.is_some() => {
            format!(
                "Hit contrast {} median of {}{range}",
                value(punch.contrast_db, "dB"),
                count(punch.hits, "hit")
            )
        }
        (_, Some(_)) => "No hits found".to_owned(),
        (_, None) => return format!("Nothing above {GATE_LUFS:.0} LUFS yet."),
    };
    format!("{hits}. {}.", leaks(readings))
}

/// The worst leak, or which leaks are clear and which are not known.
fn leaks(readings: &Readings) -> String {
    let leaks = &readings.leaks;
    let losing = LeakKind::ALL.into_iter().filter(|&kind| leaks.get(kind).state.loses());
    let worst = losing.max_by(|&a, &b| {
        let cost = |kind| leaks.get(kind).headline().map_or(0.0, |cost| cost.db);
        let state = |kind| leaks.get(kind).state;
        state(a).cmp(&state(b)).then(cost(a).total_cmp(&cost(b)))
    });
    if let Some(kind) = worst {
        let opening = match leaks.get(kind).state {
            State::Leaking => "Biggest loss:",
            State::Unknown | State::Clear | State::Watch => "Keep an eye on",
        };
        let name = lower(kind);
        // On watch for what it takes from the loudest hits, whatever that costs.
        if kind == LeakKind::Ceiling
            && leaks.ceiling.state == State::Watch
            && let Some(p90) = leaks.ceiling.implied_reduction_p90_db
            && p90 >= CATCHES_LOUDEST_DB
        {
            let (p90, cost) = (value(Some(p90), "dB"), cost(leaks.ceiling.cost));
            return format!(
                "{opening} {name}: 10 % of hits get {p90} or more of gain reduction, costing {cost}"
            );
        }
        let leak = leaks.get(kind);
        return match leak.headline() {
            // What these attacks lose first, and what the mix's hits do after it.
            Some(attacks) if leak.attack.is_some() => {
                let hits = value(leak.cost.map(|hits| hits.db), "dB");
                format!("{opening} {name}, {}, the mix's hits {hits}", cost(Some(attacks)))
            }
            Some(c) => format!("{opening} {name}, {}", cost(Some(c))),
            None => format!("{opening} {name}"),
        };
    }
    let named = |state| {
        LeakKind::ALL.into_iter().filter(move |&k| leaks.get(k).state == state).collect::<Vec<_>>()
    };
    match (list(&named(State::Clear)), list(&named(State::Unknown))) {
        (Some(clear), Some(unknown)) => format!("Clear: {clear}; not known: {unknown}"),
        (Some(_), None) => "No leak found".to_owned(),
        (None, _) => "No leak could be judged".to_owned(),
    }
}

fn lower(kind: LeakKind) -> String {
    leak_name(kind).to_lowercase()
}

fn list(kinds: &[LeakKind]) -> Option<String> {
    let names: Vec<String> = kinds.iter().map(|&k| lower(k)).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Ceiling, Cost, Leaks};

    use super::*;

    /// On watch for the loudest hits alone: what they lose is said with what that costs.
    #[test]
    fn a_ceiling_that_costs_nothing_is_on_watch_for_a_reason() {
        let readings = |p90| {
            let ceiling = Ceiling {
                state: State::Watch,
                cost: Some(Cost { db: 0.0, low_db: 0.0, high_db: 0.1 }),
                implied_reduction_p90_db: Some(p90),
                ..Ceiling::default()
            };
            Readings { leaks: Leaks { ceiling, ..Leaks::default() }, ..Readings::default() }
        };
        let says = leaks(&readings(2.6));
        assert_eq!(
            says,
            "Keep an eye on limiting: 10 % of hits get 2.6 dB or more of gain reduction, costing \
             0.0 dB (0.0 to 0.1 dB)"
        );
        assert!(!leaks(&readings(1.2)).contains("10 % of hits"));
    }
}

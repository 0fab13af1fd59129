//! The one line that answers: is it hitting, and what eats it?

use brunt_engine::thresholds::CATCHES_LOUDEST_DB;
use brunt_engine::{Cost, LeakKind, Leaks, Mids, Punch, Readings, State};

use super::evidence::cost;
use super::leak_name;
use super::need::GATE_LUFS;
use super::number::{count, span, value};
use super::records::mids_among_records;
use super::tone::further;

/// One line: how far the hits stand out, and the leak that costs most.
#[must_use]
pub fn verdict(readings: &Readings) -> String {
    verdict_of(readings.loudness.integrated_lufs, &readings.punch, &readings.leaks)
}

/// The same of what it goes by: integrated loudness, LUFS, hit contrast and the leaks.
#[must_use]
pub fn verdict_of(integrated_lufs: Option<f64>, punch: &Punch, all: &Leaks) -> String {
    let range = match (punch.contrast_p10_db, punch.contrast_p90_db) {
        (Some(low), Some(high)) => format!(" ({} {})", super::PERCENTILES, span(low, high, "dB")),
        _ => String::new(),
    };
    in_one_line(integrated_lufs, punch, &range, &leaks(all, cost))
}

/// The same without ranges, for where they have no room.
#[must_use]
pub fn short_verdict(readings: &Readings) -> String {
    let leaks = leaks(&readings.leaks, |cost| value(cost.map(|cost| cost.db), "dB"));
    in_one_line(readings.loudness.integrated_lufs, &readings.punch, "", &leaks)
}

/// `range`: what follows the median; `leaks`: what is said of them.
fn in_one_line(integrated_lufs: Option<f64>, punch: &Punch, range: &str, leaks: &str) -> String {
    let hits = match integrated_lufs {
        _ if punch.contrast_db.is_some() => {
            format!(
                "Hit contrast {} median of {}{range}",
                value(punch.contrast_db, "dB"),
                count(punch.hits, "hit")
            )
        }
        Some(_) => "No hits found".to_owned(),
        None => return format!("Nothing above {GATE_LUFS:.0} LUFS yet."),
    };
    format!("{hits}. {leaks}.")
}

/// The worst leak, or which leaks are clear and which are not known. `cost`: a cost in words.
fn leaks(leaks: &Leaks, cost: fn(Option<Cost>) -> String) -> String {
    let losing = LeakKind::ALL.into_iter().filter(|&kind| leaks.get(kind).state.loses());
    let worst = losing.max_by(|&a, &b| {
        let db = |kind| leaks.headline(kind).map_or(0.0, |cost| cost.db);
        let state = |kind| leaks.get(kind).state;
        state(a).cmp(&state(b)).then(db(a).total_cmp(&db(b)))
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
        if kind == LeakKind::Mids
            && let Some(why) = weaker(&leaks.mids)
        {
            return format!("{opening} weak mids; {why}");
        }
        let leak = leaks.get(kind);
        return match (whose(kind), leak.attack, leak.cost) {
            // What these attacks lose first, and what the mix's hits do after it.
            (Some(whose), Some(attacks), Some(hits)) => {
                let hits = value(Some(hits.db), "dB");
                format!(
                    "{opening} {name}, {} of {whose}, {hits} of the mix's hits",
                    cost(Some(attacks))
                )
            }
            _ => match leaks.headline(kind) {
                Some(c) => format!("{opening} {name}, {}", cost(Some(c))),
                None => format!("{opening} {name}"),
            },
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

/// What the state of the mids goes by: what hits lose by them is little on full-range speakers.
fn weaker(mids: &Mids) -> Option<String> {
    if let Some(beside) = &mids.beside {
        let over = further(beside);
        return Some(format!("lows and highs exceed them by {over} than in the reference"));
    }
    mids.percentile.map(mids_among_records)
}

/// Whose attacks a leak acts on, where these are not the mix's hits.
const fn whose(kind: LeakKind) -> Option<&'static str> {
    match kind {
        LeakKind::Timing => Some("shared attacks"),
        LeakKind::Drive => Some("the guitars' attack"),
        LeakKind::Ceiling | LeakKind::Clutter | LeakKind::Mids => None,
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
    use brunt_engine::{BesideReference, Ceiling, PartLeak};

    use super::*;

    /// On watch for the loudest hits alone: what they lose is said with what that costs.
    #[test]
    fn a_ceiling_that_costs_nothing_is_on_watch_for_a_reason() {
        let limited = |p90| {
            let ceiling = Ceiling {
                state: State::Watch,
                cost: Some(Cost { db: 0.0, low_db: 0.0, high_db: 0.1 }),
                implied_reduction_p90_db: Some(p90),
                ..Ceiling::default()
            };
            Leaks { ceiling, ..Leaks::default() }
        };
        let says = leaks(&limited(2.6), cost);
        assert_eq!(
            says,
            "Keep an eye on limiting: 10 % of hits get 2.6 dB or more of gain reduction, costing \
             0.0 dB (0.0 to 0.1 dB)"
        );
        assert!(!leaks(&limited(1.2), cost).contains("10 % of hits"));
    }

    /// Mids leak by what lows and highs exceed them, at a cost of nothing to full-range hits.
    #[test]
    fn weak_mids_are_said_by_what_they_go_by() {
        let mut readings = Readings::default();
        readings.loudness.integrated_lufs = Some(-14.0);
        readings.leaks.mids = Mids {
            state: State::Leaking,
            cost: Some(Cost { db: 0.0, low_db: 0.0, high_db: 0.9 }),
            beside: Some(BesideReference { weakness_db: 5.5, deficit_db: 6.0 }),
            percentile: Some(97.0),
            ..Mids::default()
        };
        assert_eq!(
            short_verdict(&readings),
            "No hits found. Biggest loss: weak mids; lows and highs exceed them by 5.5 dB more than in \
             the reference."
        );
        readings.leaks.mids.beside = None;
        assert!(short_verdict(&readings).contains("weak mids; weaker against the lows and highs"));
    }

    /// Two numbers, each with what it is of; the window has no room for their ranges.
    #[test]
    fn a_verdict_says_whose_attacks_lose_what() {
        let some = |db| Some(Cost { db, low_db: db - 0.1, high_db: db + 0.1 });
        let drive = PartLeak {
            state: State::Watch,
            cost: some(0.6),
            attack: some(1.5),
            ..PartLeak::default()
        };
        let mut readings = Readings::default();
        readings.leaks.drive = drive;
        readings.loudness.integrated_lufs = Some(-14.0);
        assert_eq!(
            short_verdict(&readings),
            "No hits found. Keep an eye on guitar gain, 1.5 dB of the guitars' attack, 0.6 dB of the \
             mix's hits."
        );
        assert!(verdict(&readings).contains("1.5 dB (1.4 to 1.6 dB) of the guitars' attack"));
    }
}

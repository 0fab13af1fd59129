//! What changed from one revision of a mix to the next.

use brunt_engine::{LeakKind, State};

use super::listener::LOUDNESS_LU;
use super::number::value;
use super::{ON_SMALL_SPEAKERS, leak_name, listener, state_word};
use crate::report::{LeaksReport, Report};

/// Least change of hit contrast, and of a leak's cost, that is mentioned, dB. Ours: about half a just
/// noticeable difference.
const CONTRAST_DB: f64 = 0.5;
/// Least change of the mid deficit that is mentioned, dB. Ours.
const DEFICIT_DB: f64 = 1.0;

/// What changed, a sentence each; one that says so where nothing that counts did.
#[must_use]
pub fn changes(before: &Report, after: &Report) -> Vec<String> {
    let mut says = Vec::new();
    let step = |a: Option<f64>, b: Option<f64>, least: f64| {
        a.zip(b).map(|(a, b)| b - a).filter(|step| step.abs() >= least)
    };
    let (a, b) = (&before.loudness, &after.loudness);
    if let Some(step) = step(a.integrated_lufs, b.integrated_lufs, LOUDNESS_LU) {
        says.push(format!("{} {}.", value(Some(step.abs()), "LU"), louder(step)));
    }
    if let Some(step) = step(before.punch.contrast_db, after.punch.contrast_db, CONTRAST_DB) {
        let more = if step > 0.0 { "higher" } else { "lower" };
        says.push(format!("Hit contrast {} {more}.", value(Some(step.abs()), "dB")));
    }
    let (small_a, small_b) = (&before.small_speaker, &after.small_speaker);
    if let Some(step) = step(small_a.contrast_db, small_b.contrast_db, CONTRAST_DB) {
        let more = if step > 0.0 { "higher" } else { "lower" };
        says.push(format!(
            "Hit contrast on a small speaker {} {more}.",
            value(Some(step.abs()), "dB")
        ));
    }
    for kind in LeakKind::ALL {
        says.extend(leak(kind, before, after));
    }
    let (a, b) = (before.balance.mid_deficit_db, after.balance.mid_deficit_db);
    if let Some(step) = step(a, b, DEFICIT_DB) {
        let more = if step > 0.0 { "higher" } else { "lower" };
        says.push(format!("Mid deficit {} {more}.", value(Some(step.abs()), "dB")));
    }
    if says.is_empty() {
        says.push("No change that matters.".to_owned());
    } else if after.listener.iter().any(|at| at.bought_db.is_some()) {
        says.push(listener(&after.listener));
    }
    says
}

/// Says that two revisions were measured whole, each over a passage of its own.
#[must_use]
pub fn not_aligned() -> String {
    "Not found to be the same song: each is measured whole, so compare with care.".to_owned()
}

fn louder(step: f64) -> &'static str {
    if step > 0.0 { "louder" } else { "quieter" }
}

/// The costs that a leak is shown with before and after, dB, and whether they are those on small speakers:
/// of both where one is shown with them, so that like is set against like.
fn costs(kind: LeakKind, before: &Report, after: &Report) -> (Option<(f64, f64)>, bool) {
    let (a, b) = (&before.leaks, &after.leaks);
    let small = |leaks: &LeaksReport| leaks.small_speakers_db(kind).is_some();
    if small(a) || small(b) {
        let carried = |leaks: &LeaksReport| leaks.mids.carry_db.map(|db| db.max(0.0));
        return (carried(a).zip(carried(b)), true);
    }
    (a.shown_db(kind).zip(b.shown_db(kind)), false)
}

fn leak(kind: LeakKind, before: &Report, after: &Report) -> Option<String> {
    let (a, b) = (before.leak(kind), after.leak(kind));
    if a.state == State::Unknown && b.state == State::Unknown {
        return None;
    }
    let (costs_db, on_small_speakers) = costs(kind, before, after);
    let costs = costs_db.map_or(String::new(), |(a, b)| {
        let where_ =
            if on_small_speakers { format!(" {ON_SMALL_SPEAKERS}") } else { String::new() };
        format!(" (cost {} to {}{where_})", value(Some(a), ""), value(Some(b), "dB"))
    });
    let name = leak_name(kind);
    if a.state != b.state {
        return Some(format!("{name}: {} to {}{costs}.", state_word(a.state), state_word(b.state)));
    }
    let (a, b) = costs_db?;
    let step = b - a;
    let more = if step > 0.0 { "more" } else { "less" };
    (step.abs() >= CONTRAST_DB)
        .then(|| format!("{name} costs {} {more}{costs}.", value(Some(step.abs()), "dB")))
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Balance, Cost, Leaks, Mids, PartLeak, Readings, Thresholds};

    use super::*;
    use crate::report::Source;

    /// A report of weak mids that cost small speakers `carry_db`, and loose timing that costs the shared
    /// attacks more than the hits.
    fn report(state: State, carry_db: f64, attack_db: f64) -> Report {
        let cost = |db| Some(Cost { db, low_db: db, high_db: db });
        let mids = Mids {
            state,
            cost: cost(0.0),
            carry_db: Some(carry_db),
            mid_deficit_db: Some(carry_db),
            ..Mids::default()
        };
        let timing =
            PartLeak { state, cost: cost(0.2), attack: cost(attack_db), ..PartLeak::default() };
        let leaks = Leaks { mids, timing, ..Leaks::default() };
        let balance = Balance { mid_deficit_db: Some(carry_db), ..Balance::default() };
        let readings = Readings { leaks, balance, ..Readings::default() };
        Report::new(Source::default(), &readings, &[], Thresholds::default())
    }

    /// The costs are those that `check` shows, and both on small speakers where one is.
    #[test]
    fn costs_are_those_that_are_shown() {
        let (weak, fine) = (report(State::Leaking, 2.4, 2.5), report(State::Clear, 0.3, 0.1));
        let says = changes(&weak, &fine);
        let want = [
            "Timing: leaking to clear (cost 2.5 to 0.2 dB).",
            "Mids: leaking to clear (cost 2.4 to 0.3 dB on small speakers).",
            "Mid deficit 2.1 dB lower.",
        ];
        assert_eq!(says, want);
        assert_eq!(changes(&weak, &weak), ["No change that matters."]);
        let weaker = report(State::Leaking, 3.9, 2.5);
        let says = changes(&weak, &weaker);
        assert_eq!(says[0], "Mids costs 1.5 dB more (cost 2.4 to 3.9 dB on small speakers).");
    }
}

//! What changed from one revision of a mix to the next.

use brunt_engine::{LeakKind, State};

use super::number::value;
use super::{leak_name, listener, state_word};
use crate::report::Report;

/// Least change of loudness that is mentioned, LU. Ours: what a listener hears between two plays.
const LOUDNESS_LU: f64 = 0.5;
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
        let weaker = if step > 0.0 { "weaker" } else { "stronger" };
        says.push(format!("Mids {} {weaker}.", value(Some(step.abs()), "dB")));
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

fn leak(kind: LeakKind, before: &Report, after: &Report) -> Option<String> {
    let (a, b) = (before.leak(kind), after.leak(kind));
    if a.state == State::Unknown && b.state == State::Unknown {
        return None;
    }
    let costs = match (a.cost_db, b.cost_db) {
        (Some(a), Some(b)) => {
            format!(" (cost {} to {})", value(Some(a), ""), value(Some(b), "dB"))
        }
        _ => String::new(),
    };
    let name = leak_name(kind);
    if a.state != b.state {
        return Some(format!("{name}: {} to {}{costs}.", state_word(a.state), state_word(b.state)));
    }
    let step = b.cost_db? - a.cost_db?;
    let more = if step > 0.0 { "more" } else { "less" };
    (step.abs() >= CONTRAST_DB)
        .then(|| format!("{name} costs {} {more}{costs}.", value(Some(step.abs()), "dB")))
}

//! What the evidence says about each leak, and what is missing where it says nothing.

use brunt_engine::{Ceiling, CeilingKind, Cost, LeakKind, Leaks, PartLeak, State};

use super::need::{need, parts_need};
use super::number::{UNKNOWN, count, span, value};

/// One line of evidence for a leak, with unit and range; for an unknown leak, what is missing.
#[must_use]
pub fn says(leaks: &Leaks, kind: LeakKind) -> String {
    match kind {
        LeakKind::Ceiling => ceiling(&leaks.ceiling),
        LeakKind::Timing => part(&leaks.timing, "Parts that should hit together"),
        LeakKind::Clutter => part(&leaks.clutter, "What fills the space between hits"),
        LeakKind::Drive => part(&leaks.drive, "Gain on distorted guitars"),
        LeakKind::Mids => super::tone::says(&leaks.mids),
    }
}

/// That a cost is small, without its range: the whole cost is shown next to it anyway, and the line
/// has to fit.
pub(super) fn little(cost: Option<Cost>) -> String {
    format!("negligible cost, {}", value(cost.map(|cost| cost.db), "dB"))
}

/// A cost with its 90 % range, such as `3.2 dB (2.1 to 4.4 dB)`.
#[must_use]
pub fn cost(cost: Option<Cost>) -> String {
    match cost {
        Some(c) => format!("{} ({})", value(Some(c.db), "dB"), span(c.low_db, c.high_db, "dB")),
        None => UNKNOWN.to_owned(),
    }
}

/// How a cost came about: measured again on audio without its cause, or estimated.
#[must_use]
pub const fn how(measured: bool) -> &'static str {
    if measured { "re-measured" } else { "estimated" }
}

/// What to try where the drums' own hits lose what the mix does not show.
pub const EASE_THE_DRUMS: &str = "Ease the limiter or clipper on the drums.";

/// That, before the advice for a mix whose ceiling has that state.
#[must_use]
pub fn ease_the_drums(mix: State, advice: &str) -> String {
    match mix {
        // There is nothing else to do.
        State::Clear => EASE_THE_DRUMS.to_owned(),
        _ => format!("{EASE_THE_DRUMS} {advice}"),
    }
}

/// That in the verdict on a mix whose ceiling has that state.
#[must_use]
pub const fn drums_lose(mix: State) -> &'static str {
    match mix {
        State::Clear => {
            "A limiter or clipper flattens the drums' own hits; the full mix hides it. See the parts."
        }
        _ => "A limiter or clipper flattens the drums' own hits. See the parts.",
    }
}

/// What is said of a part's own ceiling.
#[must_use]
pub fn heard_alone(says: &str) -> String {
    format!("On its own: {says}")
}

/// Before a gain reduction that was read from the mix alone.
pub const ESTIMATED: &str = "Estimated gain reduction";
/// The same where the sound before the limiter was there to measure it.
pub const MEASURED: &str = "Measured gain reduction";

fn ceiling(c: &Ceiling) -> String {
    if c.state == State::Unknown {
        return need(&c.need);
    }
    let how = if c.measured { MEASURED } else { ESTIMATED };
    let opening = match (c.kind.unwrap_or(CeilingKind::None), c.state) {
        (CeilingKind::Clipper, _) => "Flat tops, as after a clipper",
        (CeilingKind::Limiter, State::Clear) => "A limiter barely touches the hits",
        (CeilingKind::Limiter, State::Watch) => "Some hit peaks line up, as after a limiter",
        (CeilingKind::Limiter, _) => "Hit peaks line up, as after a limiter",
        (CeilingKind::None, State::Clear) => "Hits keep their own peak levels",
        (CeilingKind::None, _) => "Hit peaks vary less than hit bodies",
    };
    let range = c
        .implied_reduction_range_db
        .map_or(String::new(), |(low, high)| format!(" ({})", span(low, high, "dB")));
    if let Some((least, _)) = c.implied_reduction_range_db.filter(|_| c.at_least) {
        return format!("{opening}. {how} at least {}.", value(Some(least), "dB"));
    }
    let mut line =
        format!("{opening}. {how} {}{range} median", value(c.implied_reduction_db, "dB"));
    if let Some(p90) = c.implied_reduction_p90_db {
        line.push_str(&format!(", {} 90th percentile", value(Some(p90), "dB")));
    }
    if let Some(max) = c.implied_reduction_max_db {
        line.push_str(&format!(", {} max", value(Some(max), "dB")));
    }
    if let (Some(hits), Some(level)) = (c.hits_at_ceiling, c.ceiling_dbtp)
        && hits > 0
    {
        let peaks = if hits == 1 { "peaks" } else { "peak" };
        line.push_str(&format!(
            ". {} {peaks} at {}",
            count(hits, "hit"),
            value(Some(level), "dBTP")
        ));
    }
    line.push('.');
    line
}

fn part(leak: &PartLeak, subject: &str) -> String {
    match leak.state {
        State::Unknown => parts_need(&leak.need),
        State::Clear => format!("{subject}: negligible cost, {}.", cost(leak.cost)),
        State::Watch | State::Leaking => {
            format!("{subject}: costs {} of hit contrast.", cost(leak.cost))
        }
    }
}

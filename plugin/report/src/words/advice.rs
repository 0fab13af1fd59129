//! What to try first about each leak, and how to tell that it helped.

use brunt_engine::{CeilingKind, LeakKind, Leaks, Need, State};

use super::number::step;
use super::tone;

/// Longest advice, characters: with the leak's name before it, one line of an 80-column terminal.
pub const ADVICE_CHARS: usize = 66;

/// Cost of a ceiling under which there is nothing to win back, dB. Ours: half of the smallest step.
const COSTS_NOTHING_DB: f64 = 0.25;

/// One line of at most [`ADVICE_CHARS`]: what to try first and how to check that it helped; for an
/// unknown leak, what to connect or to play.
#[must_use]
pub fn advice(leaks: &Leaks, kind: LeakKind) -> String {
    let leak = leaks.get(kind);
    match leak.state {
        State::Unknown => unknown(kind, &leak.need).to_owned(),
        State::Clear => clear(kind).to_owned(),
        State::Watch | State::Leaking => match kind {
            LeakKind::Ceiling => ceiling(leaks),
            LeakKind::Timing => {
                "Move the latest part first: its spread in ms should fall.".to_owned()
            }
            LeakKind::Clutter => {
                "Shorten the part that fills the gaps: hits should stand out more.".to_owned()
            }
            LeakKind::Drive => {
                "Guitar gain down, level up: pick attack should stand out.".to_owned()
            }
            LeakKind::Mids => tone::advice(&leaks.mids),
        },
    }
}

fn ceiling(leaks: &Leaks) -> String {
    let c = &leaks.ceiling;
    let cost = c.cost.map_or(0.0, |cost| cost.db);
    if cost < COSTS_NOTHING_DB {
        return "Judge by ear: only the loudest hits lose peak level, at no cost.".to_owned();
    }
    let step = step(cost);
    match c.kind {
        Some(CeilingKind::Clipper) => {
            format!("Drive the clipper {step} less: level-matched, hits should rise.")
        }
        Some(CeilingKind::Limiter | CeilingKind::None) | None => {
            format!("Drive the limiter {step} less: level-matched, hits should rise.")
        }
    }
}

const fn clear(kind: LeakKind) -> &'static str {
    match kind {
        LeakKind::Ceiling => "Nothing to do; check again if the limiter changes.",
        LeakKind::Timing => "Nothing to do; check again if parts are edited.",
        LeakKind::Clutter => "Nothing to do; check again if a part is added.",
        LeakKind::Drive => "Nothing to do; check again if a guitar sound changes.",
        // Without a reference more is missed than found (docs/accuracy.md).
        LeakKind::Mids => "Nothing to do; a reference would show smaller changes.",
    }
}

const fn unknown(kind: LeakKind, need: &Need) -> &'static str {
    match need {
        Need::Nothing | Need::Signal => "Play the song, at any level.",
        Need::Hits { .. } => "Play a longer passage, with the drums in.",
        Need::Shared { .. } => "Play a longer passage in which two parts play together.",
        Need::Programme { .. } => "Play a longer passage.",
        Need::Notes { .. } => "Play a passage where the guitars let notes ring.",
        Need::Evidence | Need::Alike => match kind {
            LeakKind::Drive => "Record the riff with less gain and compare the two takes.",
            _ => "Check the limiter's own meter, or send Brunt the mix before it.",
        },
        Need::SampleRate => "Use the mix at its full sample rate, 44.1 kHz or more.",
        Need::Mix => "See the Brunt on the mix bus.",
        // What it takes is said next to it; this is what the ear can do until then.
        Need::Parts | Need::GuitarPart => match kind {
            LeakKind::Timing => "By ear: solo drums and one part; listen for doubled attacks.",
            LeakKind::Clutter => "By ear: mute one part at a time; listen for hits that step out.",
            LeakKind::Drive => "By ear: solo the guitars; listen for a clear pick attack.",
            LeakKind::Ceiling | LeakKind::Mids => "Play the whole mix.",
        },
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::all_leaks;
    use super::*;

    #[test]
    fn every_advice_is_one_sentence_on_one_line() {
        for leaks in all_leaks() {
            for kind in LeakKind::ALL {
                let text = advice(&leaks, kind);
                assert!(text.chars().count() <= ADVICE_CHARS, "{} chars: {text}", text.len());
                assert!(text.ends_with('.') && !text.contains('\n'), "{text}");
            }
        }
    }

    #[test]
    fn guitars_that_one_take_cannot_tell_are_not_sent_to_the_limiter() {
        for need in [Need::Evidence, Need::Alike] {
            assert!(unknown(LeakKind::Ceiling, &need).contains("limiter"));
            assert!(unknown(LeakKind::Drive, &need).contains("two takes"));
        }
    }

    #[test]
    fn the_step_follows_the_cost_and_stays_small() {
        for (db, text) in [(0.1, "0.5 dB"), (2.3, "2.5 dB"), (40.0, "6.0 dB")] {
            assert_eq!(step(db), text);
        }
    }
}

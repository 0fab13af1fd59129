//! What to try first about each leak, and how to tell that it helped.

use brunt_engine::{CeilingKind, LeakKind, Leaks, Need, State};

use super::number::value;

/// One line: what to try first and how to check that it helped; for an unknown leak, what to
/// connect or to play.
#[must_use]
pub fn advice(leaks: &Leaks, kind: LeakKind) -> String {
    let leak = leaks.get(kind);
    match leak.state {
        State::Unknown => unknown(kind, &leak.need),
        State::Clear => clear(kind).to_owned(),
        State::Watch | State::Leaking => match kind {
            LeakKind::Ceiling => ceiling(leaks),
            LeakKind::Timing => "Move the latest part first; the spread in ms should fall, \
                                 and the contrast rise."
                .to_owned(),
            LeakKind::Clutter => "Shorten or thin the part that fills the gaps; \
                                  the contrast should rise."
                .to_owned(),
            LeakKind::Drive => "Turn the guitar gain down a little and the level up; \
                                the pick should stand out again."
                .to_owned(),
            LeakKind::Mids => mids(leaks),
        },
    }
}

/// The step to try, dB: what the ceiling costs, in halves, at least half a decibel.
fn step_db(cost_db: f64) -> f64 {
    ((cost_db * 2.0).round() / 2.0).max(0.5)
}

fn ceiling(leaks: &Leaks) -> String {
    let c = &leaks.ceiling;
    let step = value(Some(step_db(c.cost.map_or(0.0, |cost| cost.db))), "dB");
    match c.kind {
        Some(CeilingKind::Clipper) => format!(
            "Feed the clipper about {step} less, then compare at matched loudness: \
             the flat tops should go and the contrast rise."
        ),
        Some(CeilingKind::Limiter | CeilingKind::None) | None => format!(
            "Feed the limiter about {step} less, then compare at matched loudness: \
             gain reduction should fall and the contrast rise."
        ),
    }
}

fn mids(leaks: &Leaks) -> String {
    // Common practice, no source: a small broad lift near 700 Hz gives punch back, and shelves
    // near 60 Hz and 12 kHz take it. No more than 3 dB at a time: a deficit is no target curve.
    let lift = leaks.mids.mid_deficit_db.map_or(1.0, |d| step_db(d / 2.0).min(3.0));
    format!(
        "Try a broad lift of about {} near 700 Hz, or ease the shelves near 60 Hz and 12 kHz; \
         listen on a small speaker: the deficit should shrink.",
        value(Some(lift), "dB")
    )
}

fn clear(kind: LeakKind) -> &'static str {
    match kind {
        LeakKind::Ceiling => "Leave it; check again after each change of the limiter.",
        LeakKind::Timing => "Leave it; check again after each edit of the parts.",
        LeakKind::Clutter => "Leave it; check again when a part is added.",
        LeakKind::Drive => "Leave it; check again when a guitar sound changes.",
        LeakKind::Mids => "Leave it; check again after each change of the tone.",
    }
}

fn unknown(kind: LeakKind, need: &Need) -> String {
    match *need {
        Need::Nothing | Need::Signal => "Play the song, at any level.".to_owned(),
        Need::Hits { .. } | Need::Programme { .. } => {
            "Play a longer passage, with the drums in.".to_owned()
        }
        Need::SampleRate => "Use the mix at its full sample rate, 44.1 kHz or more.".to_owned(),
        // The reading of parts is not built yet; a promise of an input would send the user to look
        // for a socket that is not there.
        Need::Parts | Need::GuitarPart => match kind {
            LeakKind::Timing => "This version reads the mix only. By ear: play drums and one \
                                 part alone, and listen for doubled attacks."
                .to_owned(),
            LeakKind::Clutter => "This version reads the mix only. By ear: mute one part at a \
                                  time, and listen for hits that step forward."
                .to_owned(),
            LeakKind::Drive => "This version reads the mix only. By ear: play the guitars alone, \
                                and listen for picks that stand out."
                .to_owned(),
            LeakKind::Ceiling | LeakKind::Mids => {
                "This version reads the mix only; play the whole mix.".to_owned()
            }
        },
    }
}

//! What is missing where nothing can be said.

use brunt_engine::Need;
pub use brunt_engine::thresholds::ABSOLUTE_GATE_LUFS as GATE_LUFS;
use brunt_engine::thresholds::MID_HIGH_HZ;

use super::number::count;

/// What is missing, in one line.
#[must_use]
pub fn need(need: &Need) -> String {
    match *need {
        Need::Nothing => "Not enough evidence yet.".to_owned(),
        Need::Signal => format!("Nothing above {GATE_LUFS:.0} LUFS yet."),
        Need::Hits { have, want } => {
            format!("{} heard, {want} needed.", count(u64::from(have), "hit"))
        }
        Need::Shared { have, want } => {
            format!("{} shared by two parts, {want} needed.", count(u64::from(have), "note"))
        }
        Need::Notes { have, want } => {
            format!(
                "{} heard, {want} needed: muted notes fade by themselves.",
                count(u64::from(have), "long guitar note")
            )
        }
        Need::Programme { have_s, want_s } => {
            format!("{have_s:.1} s of audio heard, {want_s:.0} s needed.")
        }
        Need::Evidence => "Can't tell: a limiter may be evening out these hits, or they are \
                           naturally alike."
            .to_owned(),
        Need::Alike => "These hits are unlike any that the estimate was tried on.".to_owned(),
        Need::SampleRate => format!(
            "The sample rate is too low to carry the high band (above {:.0} kHz).",
            MID_HIGH_HZ / 1_000.0
        ),
        Need::Parts => "The mix alone can't show this: put Brunt on each part's bus, or run brunt \
                        check --part."
            .to_owned(),
        Need::GuitarPart => "The mix alone can't show this: put Brunt on the guitar bus, or run \
                             brunt check --part."
            .to_owned(),
        Need::Mix => "A part alone can't show this: it takes the full mix.".to_owned(),
    }
}

/// The same of a leak that parts show. What counts there are main hits of the passage that was read, and
/// not all that a meter heard.
pub(super) fn parts_need(need: &Need) -> String {
    match *need {
        Need::Hits { have, want } => main_hits(have, want),
        ref other => self::need(other),
    }
}

/// How many main hits the passage has, and how many it takes.
pub(super) fn main_hits(have: u32, want: u32) -> String {
    format!("{} in this passage, {want} needed.", count(u64::from(have), "main hit"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A loop of four bars is heard ten times: the hits that were heard are not what is missing.
    #[test]
    fn parts_are_read_at_main_hits() {
        let hits = Need::Hits { have: 14, want: 16 };
        assert_eq!(need(&hits), "14 hits heard, 16 needed.");
        assert_eq!(parts_need(&hits), "14 main hits in this passage, 16 needed.");
        let one = Need::Hits { have: 1, want: 16 };
        assert_eq!(parts_need(&one), "1 main hit in this passage, 16 needed.");
        assert_eq!(parts_need(&Need::Parts), need(&Need::Parts));
    }
}

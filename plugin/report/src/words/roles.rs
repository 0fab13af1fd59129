//! Words about the role that a part's sound or name suggests.

use brunt_engine::parts::{PartRole, RoleSuggestion};
use brunt_engine::thresholds::role::NEARLY_SURE_LOG_ODDS;
use brunt_engine::thresholds::{LOW_MID_HZ, MID_HIGH_HZ};

use super::links::role_word;
use super::number::value;

/// Longest name of a track in a sentence, characters.
const LONGEST_NAME: usize = 24;

/// What a part sounds like, how sure that is, and what speaks for it.
#[must_use]
pub fn role_says(suggestion: &RoleSuggestion) -> String {
    let sure = if suggestion.log_odds >= NEARLY_SURE_LOG_ODDS { "nearly sure" } else { "likely" };
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let [low, mid, _] = suggestion.shares;
    let why = match suggestion.role {
        PartRole::Bass => format!("{} of its power is under {LOW_MID_HZ:.0} Hz", percent(low)),
        PartRole::Drums => match suggestion.fall_db {
            Some(fall) => format!("its hits fall {} in 70 ms", value(Some(fall), "dB")),
            None => {
                format!("its hits differ by {} in tone", value(Some(suggestion.change_db), "dB"))
            }
        },
        _ => format!(
            "plucked notes, {} of their power from {LOW_MID_HZ:.0} Hz to {:.0} kHz",
            percent(mid),
            MID_HIGH_HZ / 1e3
        ),
    };
    format!("Sounds like {} ({sure}): {why}.", role_word(suggestion.role))
}

/// The same for a part that was given another role.
#[must_use]
pub fn role_doubt(given: &str, says: &str) -> String {
    format!("Given as {given}. {says}")
}

/// What speaks for the suggested `role` where this instance has another: the sound, the name of the
/// track, or both.
#[must_use]
pub fn role_suggested(role: PartRole, content: Option<&RoleSuggestion>, name: &str) -> String {
    let named = PartRole::from_name(name);
    match (content, named) {
        (Some(content), Some(named)) if named == role => {
            format!("{} Its name says so too.", role_says(content))
        }
        (Some(content), Some(_)) => format!("{} Its name says otherwise.", role_says(content)),
        (Some(content), None) => role_says(content),
        (None, _) => format!("Named \u{201c}{}\u{201d}: {}?", short(name), role_word(role)),
    }
}

/// A name that fits into a sentence.
fn short(name: &str) -> String {
    if name.chars().count() <= LONGEST_NAME {
        return name.to_owned();
    }
    let start: String = name.chars().take(LONGEST_NAME - 1).collect();
    format!("{}\u{2026}", start.trim_end())
}

/// The button that takes a suggestion.
#[must_use]
pub fn take_role(role: PartRole) -> String {
    format!("Set to {}", role_word(role))
}

/// The same for assistive technology.
#[must_use]
pub fn take_role_name(role: PartRole) -> String {
    format!("Set the role of this part to {}", role_word(role))
}

/// What the button does.
pub const TAKE_ROLE_TIP: &str = "A suggestion from the sound or the name of this track. Nothing \
                                 changes until you click.";

/// In the list of parts: what a part sounds like, where its role is another.
#[must_use]
pub fn sounds_like(role: PartRole) -> String {
    format!("sounds like {}", role_word(role))
}

/// What to do about that: a role is changed in the part's own window.
pub const SOUNDS_LIKE_HOW: &str = "Open Brunt on that part's bus to change its role.";

#[cfg(test)]
mod tests {
    use super::*;

    fn sounds(role: PartRole) -> RoleSuggestion {
        RoleSuggestion {
            role,
            log_odds: NEARLY_SURE_LOG_ODDS,
            shares: [0.8, 0.15, 0.05],
            fall_db: Some(17.5),
            change_db: 11.0,
        }
    }

    #[test]
    fn a_suggestion_says_how_sure_it_is_and_why() {
        let bass = sounds(PartRole::Bass);
        assert_eq!(
            role_says(&bass),
            "Sounds like bass (nearly sure): 80 % of its power is under 200 Hz."
        );
        let drums =
            RoleSuggestion { log_odds: NEARLY_SURE_LOG_ODDS - 0.1, ..sounds(PartRole::Drums) };
        assert_eq!(
            role_says(&drums),
            "Sounds like drums (likely): its hits fall 17.5 dB in 70 ms."
        );
        assert!(role_says(&sounds(PartRole::Guitars)).contains("from 200 Hz to 4 kHz"));
    }

    #[test]
    fn a_name_is_said_where_it_agrees_and_where_it_does_not() {
        let bass = sounds(PartRole::Bass);
        let said = |name| role_suggested(PartRole::Bass, Some(&bass), name);
        assert!(said("Bass DI").ends_with("Its name says so too."));
        assert!(said("Kick").ends_with("Its name says otherwise."));
        assert!(said("Track 4").ends_with("200 Hz."));
        let named = role_suggested(PartRole::Bass, None, "Bass DI");
        assert_eq!(named, "Named \u{201c}Bass DI\u{201d}: bass?");
        let long = role_suggested(PartRole::Bass, None, "Bass from the second refrain on");
        assert_eq!(long, "Named \u{201c}Bass from the second re\u{2026}\u{201d}: bass?");
    }
}

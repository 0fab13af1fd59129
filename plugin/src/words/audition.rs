//! Words of the audition: what is heard in place of the mix, how it was matched, what the guard
//! does, and why it is off.

use brunt_report::words::{count, signed, value};

use crate::audition::{Heard, Held};

/// Title of the choice of what is heard.
pub const LISTEN: &str = "Listen";
/// Choice: the mix.
pub const MIX: &str = "Mix";
/// Choice: the side-chain.
pub const SIDE: &str = "Side-chain";
/// Choice: the difference.
pub const DIFFERENCE: &str = "Difference";
/// The same where there is little room.
pub const SIDE_SHORT: &str = "Side";
/// The same where there is little room.
pub const DIFFERENCE_SHORT: &str = "Diff";

/// What the choice does.
pub const MIX_TIP: &str = "Hear the mix, bit for bit.";
/// What the choice does.
pub const SIDE_TIP: &str = "Hear the side-chain in place of the mix, as loud as the mix over the \
                            same passage. Off in an offline render, and when the session opens.";
/// What the choice does.
pub const DIFFERENCE_TIP: &str = "Hear what the limiter took: the side-chain, as loud as the mix, minus the mix. The side-chain \
     has to carry the mix before the limiter.";
/// Head of the tooltip of the sign that is on while anything but the mix is heard.
pub const CARE: &str = "While you compare";

/// The fact of what is heard.
#[must_use]
pub const fn heard(what: Heard) -> &'static str {
    match what {
        Heard::Side => "You hear the side-chain, not the mix.",
        Heard::Difference => "You hear the difference, not the mix.",
        Heard::Mix => "You hear the mix.",
    }
}

/// What is the case, and what to do.
#[must_use]
pub const fn held(why: Held) -> (&'static str, &'static str) {
    match why {
        Held::Bypassed => ("You hear the mix: Brunt is bypassed.", "Switch bypass off first."),
        Held::Offline => (
            "You hear the mix: the host renders offline.",
            "Nothing but the mix gets into a bounce.",
        ),
        Held::NoSide => (
            "You hear the mix: there is no side-chain.",
            "Send one to Brunt and choose what it carries.",
        ),
        Held::NotBefore => (
            "You hear the mix: Difference needs the role Before.",
            "Send the mix from before the limiter to the side-chain.",
        ),
        Held::Failed => (
            "You hear the mix: listening has failed and is off.",
            "Reload the plug-in to start again.",
        ),
    }
}

/// How the side-chain was matched: its gain, dB, over a passage of `passage_s` seconds; `sure` as
/// soon as that is long enough to turn it up; `beyond_lu` is what a bound of `bound_db` leaves.
#[must_use]
pub fn matched(
    gain_db: Option<f64>,
    passage_s: f64,
    sure: bool,
    beyond_lu: f64,
    bound_db: f64,
) -> String {
    let Some(gain) = gain_db else {
        return "Not matched yet: play a few seconds of both.".to_owned();
    };
    if !sure {
        return format!(
            "Only {passage_s:.1} s of both so far: too short for a match, so it is not turned up."
        );
    }
    let way = match gain {
        g if g >= 0.05 => format!("Turned up {}", value(Some(g), "dB")),
        g if g <= -0.05 => format!("Turned down {}", value(Some(-g), "dB")),
        _ => "Not turned up or down".to_owned(),
    };
    if beyond_lu >= 0.05 {
        let left = value(Some(beyond_lu), "LU");
        return format!("{way}, the limit of {bound_db:.0} dB: still {left} away from the mix.");
    }
    format!("{way}: as loud as the mix over {}.", count(passage_s.round() as u64, "second"))
}

/// The same in a few words, while the mix is heard.
#[must_use]
pub fn matched_short(gain_db: Option<f64>, sure: bool) -> Option<String> {
    gain_db.filter(|_| sure).map(|gain| format!("match {}", signed(Some(gain), "dB")))
}

/// What the guard does, where it does anything: its largest reduction in the last second, dB.
#[must_use]
pub fn guard(reduction_db: Option<f64>) -> Option<String> {
    let reduction = value(Some(reduction_db?), "dB");
    Some(format!("Its true-peak limiter takes up to {reduction}, so it is quieter than the match."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_known_is_said() {
        assert!(matched(None, 0.0, false, 0.0, 12.0).starts_with("Not matched yet"));
        assert!(matched(Some(-1.0), 1.2, false, 0.0, 12.0).contains("1.2 s"));
        assert_eq!(matched_short(Some(3.0), false), None);
        assert_eq!(guard(None), None);
    }

    #[test]
    fn the_way_of_the_gain_is_said() {
        let say = |gain| matched(Some(gain), 21.0, true, 0.0, 12.0);
        assert_eq!(say(3.2), "Turned up 3.2 dB: as loud as the mix over 21 seconds.");
        assert_eq!(say(-3.2), "Turned down 3.2 dB: as loud as the mix over 21 seconds.");
        assert!(say(0.0).starts_with("Not turned"));
        let bound = matched(Some(12.0), 21.0, true, 2.1, 12.0);
        assert_eq!(bound, "Turned up 12.0 dB, the limit of 12 dB: still 2.1 LU away from the mix.");
    }
}

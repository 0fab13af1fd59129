//! What the listener gets, in one sentence.

use super::number::{UNKNOWN, count, value};
use crate::listener::ListenerReport;

/// Difference in level that is worth a word, dB: about one just noticeable difference (common
/// practice, no source).
const WORTH_DB: f64 = 0.5;
/// Least change of loudness that is mentioned, LU. Ours: what a listener hears between two plays.
pub(super) const LOUDNESS_LU: f64 = 0.5;

/// One sentence about the first loudness of [`TARGETS_LUFS`](crate::listener::TARGETS_LUFS).
#[must_use]
pub fn listener(reports: &[ListenerReport]) -> String {
    let Some(at) = reports.first() else {
        return format!("What the listener gets: {UNKNOWN}, no hits found.");
    };
    let target = format!("At {:.0} LUFS", at.target_lufs);
    let Some(bought) = at.bought_db else {
        let turned = match at.gain_db {
            gain if gain >= 0.05 => format!("turned up {}", value(Some(gain), "dB")),
            gain if gain <= -0.05 => format!("turned down {}", value(Some(-gain), "dB")),
            _ => "played as it is".to_owned(),
        };
        let held = if at.held_by_peaks { ": its peaks leave no more room" } else { "" };
        return format!(
            "{target} this mix is {turned}{held}. Its hits play at {}.",
            value(Some(at.hit_level_lufs), "LUFS")
        );
    };
    let size = value(Some(bought.abs()), "dB");
    let louder = at.louder_lu.unwrap_or(0.0);
    let (louder, quieter) = (louder >= LOUDNESS_LU, louder <= -LOUDNESS_LU);
    if bought <= -WORTH_DB {
        let why = if louder { ": extra loudness gained nothing" } else { "" };
        format!("{target} the hits play {size} quieter than before{why}.")
    } else if bought < WORTH_DB {
        let why = match () {
            () if louder => ": extra loudness gained nothing",
            () if quieter => ": less loudness cost nothing",
            () => "",
        };
        format!("{target} the hits play as before, within {size}{why}.")
    } else {
        let why = if quieter { ": less loudness cost nothing" } else { "" };
        format!("{target} the hits play {size} louder than before{why}.")
    }
}

/// Hits that vanish, such as `3 hits vanish`.
#[must_use]
pub fn vanished(hits: u64) -> String {
    match hits {
        0 => "no hit vanishes".to_owned(),
        1 => "1 hit vanishes".to_owned(),
        n => format!("{} vanish", count(n, "hit")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What loudness has to do with it goes by which version is louder.
    #[test]
    fn loudness_is_blamed_by_its_sign() {
        for (bought, louder, end) in [
            (-3.0, 3.0, "play 3.0 dB quieter than before: extra loudness gained nothing."),
            (-3.0, -3.0, "play 3.0 dB quieter than before."),
            (-3.0, 0.1, "play 3.0 dB quieter than before."),
            (0.1, 3.0, "play as before, within 0.1 dB: extra loudness gained nothing."),
            (0.1, -3.0, "play as before, within 0.1 dB: less loudness cost nothing."),
            (0.1, 0.1, "play as before, within 0.1 dB."),
            (3.0, 3.0, "play 3.0 dB louder than before."),
            (3.0, -3.0, "play 3.0 dB louder than before: less loudness cost nothing."),
        ] {
            let at = ListenerReport {
                target_lufs: -14.0,
                bought_db: Some(bought),
                louder_lu: Some(louder),
                ..ListenerReport::default()
            };
            assert_eq!(listener(&[at]), format!("At -14 LUFS the hits {end}"));
        }
    }
}

//! What the listener gets, in one sentence.

use super::number::{UNKNOWN, count, value};
use crate::listener::ListenerReport;

/// Difference in level that is worth a word, dB: about one just noticeable difference (common
/// practice, no source).
const WORTH_DB: f64 = 0.5;

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
    if bought <= -WORTH_DB {
        format!("{target} the hits play {size} quieter than before: extra loudness gained nothing.")
    } else if bought < WORTH_DB {
        format!("{target} the hits play as before, within {size}: loudness changed nothing.")
    } else {
        format!("{target} the hits play {size} louder than before.")
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

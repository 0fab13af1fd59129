//! How many hits there are, and how many of them the mix drowns.

use super::line::percent;
use super::number::{signed, value};

/// The number of hits, such as `106 found`, or `106, of which 31 (29 %) are buried` where the drums'
/// part shows it.
#[must_use]
pub fn hits_found(hits: u64, buried: Option<u64>) -> String {
    match buried {
        None => format!("{hits} found"),
        Some(0) => format!("{hits}, none of them buried"),
        Some(buried) => {
            let share = percent(buried as f64 / hits.max(1) as f64);
            let are = if buried == 1 { "is" } else { "are" };
            format!("{hits}, of which {buried} ({share}) {are} buried")
        }
    }
}

/// What the hits gain when a part is muted or turned down; nothing where that is not known.
#[must_use]
pub fn if_turned_down(if_muted_db: Option<f64>, if_3db_lower_db: Option<f64>) -> String {
    match (if_muted_db, if_3db_lower_db) {
        (Some(_), Some(_)) => format!(
            "hits {} if muted, {} if 3 dB lower",
            signed(if_muted_db, "dB"),
            signed(if_3db_lower_db, "dB")
        ),
        _ => String::new(),
    }
}

/// How many fewer hits were found here than in another version of the same bars, where that is a lot:
/// from the mix alone nobody knows which they are.
#[must_use]
pub fn fewer_hits(here: u64, there: u64) -> Option<String> {
    let fewer = there.checked_sub(here).filter(|&fewer| fewer * FEWER_OF >= there && fewer > 0)?;
    let share = value(Some(100.0 * fewer as f64 / there as f64), "%");
    Some(format!("{fewer} fewer hits found ({share}): they no longer come through."))
}

/// One part in so many of the hits must be missing for a word. Ours.
const FEWER_OF: u64 = 20;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn buried_hits_are_counted_among_the_hits() {
        assert_eq!(hits_found(106, None), "106 found");
        assert_eq!(hits_found(106, Some(0)), "106, none of them buried");
        assert_eq!(hits_found(106, Some(31)), "106, of which 31 (29 %) are buried");
        assert_eq!(hits_found(106, Some(1)), "106, of which 1 (1 %) is buried");
    }

    #[test]
    fn a_few_fewer_hits_are_no_news() {
        assert_eq!(fewer_hits(104, 106), None);
        assert_eq!(fewer_hits(120, 106), None);
        let says = fewer_hits(71, 106).expect("a third is missing");
        assert!(says.starts_with("35 fewer hits found (33"), "{says}");
    }

    #[test]
    fn gains_have_a_sign() {
        assert_eq!(
            if_turned_down(Some(1.24), Some(0.4)),
            "hits +1.2 dB if muted, +0.4 dB if 3 dB lower"
        );
        assert_eq!(if_turned_down(None, Some(0.4)), "");
    }
}

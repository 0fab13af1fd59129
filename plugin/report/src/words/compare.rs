//! What the comparison says.

use brunt_engine::{Compare, Relation, SideRole};

use super::number::{signed, value};
use crate::report::CompareReport;

/// The word for a role; the JSON uses the same.
#[must_use]
pub const fn role_word(role: SideRole) -> &'static str {
    match role {
        SideRole::Off => "off",
        SideRole::Before => "before",
        SideRole::Reference => "reference",
        SideRole::Partner => "partner",
    }
}

/// The word for a relation; the JSON uses the same.
#[must_use]
pub const fn relation_word(relation: Relation) -> &'static str {
    match relation {
        Relation::Unknown => "unknown",
        Relation::None => "none",
        Relation::Found => "found",
    }
}

/// Why a gain is open upwards.
const HIDDEN_GAIN: &str = " The limiter never stops reducing, so make-up gain can't be isolated: reductions are at least \
     these.";

/// Lost peak under nought from which the two may be swapped, dB. Ours: half of a leak to watch.
const SWAPPED_DB: f64 = 0.5;

/// The comparison in one line.
#[must_use]
pub fn compare_says(compare: &CompareReport) -> String {
    if compare.role != role_word(SideRole::Before) {
        return format!(
            "Against the reference: hit contrast {}, loudness {}; low {}, mid {}, high {}.",
            signed(compare.contrast_difference_db, "dB"),
            signed(compare.loudness_difference_lu, "LU"),
            signed(compare.band_difference_db.low, "dB"),
            signed(compare.band_difference_db.mid, "dB"),
            signed(compare.band_difference_db.high, "dB"),
        );
    }
    if compare.relation != relation_word(Relation::Found) {
        return "No match found between this mix and the one before the limiter. Nothing is \
                compared."
            .to_owned();
    }
    let way = delay(compare.delay_ms);
    let between = match compare.equalised {
        Some(true) => ", EQ or similar in between",
        _ => "",
    };
    let (least, open) = match (compare.equalised, compare.limiter_rests) {
        (Some(true), _) => ("", ""),
        (_, Some(false)) => ("at least ", HIDDEN_GAIN),
        _ => ("", ""),
    };
    // A limiter takes from the hits: where they peak higher after it, something is amiss.
    let swapped = match compare.lost_db_median {
        Some(lost) if lost <= -SWAPPED_DB => {
            " Hits peak higher after the limiter than before it. Are the two swapped?"
        }
        _ => "",
    };
    format!(
        "Against the mix before the limiter: {way}, gain {least}{}{between}. Gain reduction {} \
         median, {} max; lost peak {} at matched loudness.{open}{swapped}",
        signed(compare.gain_db, "dB"),
        value(compare.reduction_db_median, "dB"),
        value(compare.reduction_db_max, "dB"),
        value(compare.lost_db_median, "dB"),
    )
}

/// Share of the hits under which a comparison is of a part of the mix. Ours: the first hits go by until a
/// delay is found.
const PART_OF_HITS: f64 = 0.8;

/// That the other covers few of the mix's hits; `None` where it covers enough, or nothing is
/// compared.
pub(crate) fn part_of_hits(compare: &CompareReport, all: u64) -> Option<String> {
    let found = compare.role == role_word(SideRole::Before)
        && compare.relation == relation_word(Relation::Found);
    let few = (compare.hits as f64) < PART_OF_HITS * all as f64;
    (found && few).then(|| {
        format!("Based on {} of {all} hits; the other version covers no more.", compare.hits)
    })
}

/// How the live comparison is going, in one line: what the side-chain was found to carry, or what is
/// still missing.
#[must_use]
pub fn compare_stands(compare: &Compare) -> String {
    let alignment = &compare.alignment;
    match (compare.role, alignment.relation) {
        (SideRole::Off, _) => match compare.suggested_role {
            Some(SideRole::Before) => "The side-chain carries this same mix: set its role below \
                                       to Before to see what the hits lost."
                .to_owned(),
            Some(_) => "The side-chain carries something else: set its role below to Reference \
                        to compare with it."
                .to_owned(),
            None => "Choose below what the side-chain carries.".to_owned(),
        },
        (SideRole::Before, Relation::Unknown) => {
            "Finding the delay: a few seconds of both are needed.".to_owned()
        }
        (SideRole::Before, Relation::None) => {
            "The side-chain does not carry this mix within 500 ms \
                                               either way: nothing is compared."
                .to_owned()
        }
        (SideRole::Before, Relation::Found) => {
            let range = match compare.gain_range_db {
                _ if compare.limiter_rests == Some(false) => " or more".to_owned(),
                Some(db) => format!(" \u{b1}{}", value(Some(db), "dB")),
                None => String::new(),
            };
            let sign =
                if alignment.inverted { " Polarity is inverted between the two." } else { "" };
            let between = match (compare.equalised, compare.limiter_rests) {
                (Some(true), _) => " There is EQ or similar in between.",
                (_, Some(false)) => {
                    " The limiter never stops reducing: reductions are at least these."
                }
                _ => "",
            };
            format!(
                "Same mix: {}, gain {}{range}.{sign}{between}",
                delay(alignment.delay_ms),
                signed(compare.gain_db, "dB"),
            )
        }
        (SideRole::Reference, _) => {
            let suggested = compare.suggested_role == Some(SideRole::Before);
            if suggested {
                "Against a reference. It is this same mix, though; Before would show more."
                    .to_owned()
            } else {
                "Against a reference, both at the same loudness.".to_owned()
            }
        }
        (SideRole::Partner, _) => "Against another part of the mix.".to_owned(),
    }
}

/// A delay of the mix behind the other, in words.
fn delay(ms: Option<f64>) -> String {
    match ms {
        Some(ms) if ms.abs() < 0.005 => "no delay".to_owned(),
        Some(ms) if ms < 0.0 => format!("delay {:.2} ms, the mix comes first", -ms),
        Some(ms) => format!("delay {ms:.2} ms"),
        None => "delay unknown".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn beside(lost_db: f64) -> String {
        compare_says(&CompareReport {
            role: role_word(SideRole::Before).to_owned(),
            relation: relation_word(Relation::Found).to_owned(),
            lost_db_median: Some(lost_db),
            ..CompareReport::default()
        })
    }

    /// Make-up gain that no moment shows is said to be open upwards.
    #[test]
    fn a_limiter_that_never_stops_is_said_to_hide_its_gain() {
        let says = |limiter_rests| {
            compare_says(&CompareReport {
                role: role_word(SideRole::Before).to_owned(),
                relation: relation_word(Relation::Found).to_owned(),
                gain_db: Some(9.2),
                limiter_rests,
                ..CompareReport::default()
            })
        };
        let open = says(Some(false));
        assert!(open.contains("gain at least +9.2 dB.") && open.ends_with(HIDDEN_GAIN), "{open}");
        for rests in [Some(true), None] {
            assert!(!says(rests).contains("at least"), "{}", says(rests));
        }
    }

    #[test]
    fn a_comparison_of_few_hits_says_how_many() {
        let compare = |hits| CompareReport {
            role: role_word(SideRole::Before).to_owned(),
            relation: relation_word(Relation::Found).to_owned(),
            hits,
            ..CompareReport::default()
        };
        let part = part_of_hits(&compare(4), 149);
        assert_eq!(
            part.as_deref(),
            Some("Based on 4 of 149 hits; the other version covers no more.")
        );
        assert_eq!(part_of_hits(&compare(140), 149), None);
        assert_eq!(part_of_hits(&CompareReport { role: String::new(), ..compare(4) }, 149), None);
    }

    /// A limiter takes height, it gives none: hits that peak higher after it are asked about.
    #[test]
    fn two_that_were_swapped_are_asked_about() {
        assert!(beside(-0.8).ends_with("Are the two swapped?"), "{}", beside(-0.8));
        for lost_db in [-0.2, 0.0, 3.1] {
            assert!(!beside(lost_db).contains("swapped"), "{}", beside(lost_db));
        }
    }
}

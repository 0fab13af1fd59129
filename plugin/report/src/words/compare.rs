//! What the comparison says.

use brunt_engine::{Relation, SideRole};

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

/// The comparison in one line.
#[must_use]
pub fn compare_says(compare: &CompareReport) -> String {
    if compare.role != role_word(SideRole::Before) {
        return format!(
            "Beside the reference: hit contrast {}, loudness {}; low {}, mid {}, high {}.",
            signed(compare.contrast_difference_db, "dB"),
            signed(compare.loudness_difference_lu, "LU"),
            signed(compare.band_difference_db.low, "dB"),
            signed(compare.band_difference_db.mid, "dB"),
            signed(compare.band_difference_db.high, "dB"),
        );
    }
    if compare.relation != relation_word(Relation::Found) {
        return "No relation found between the mix and the mix before the limiter: nothing is \
                compared."
            .to_owned();
    }
    let way = match compare.delay_ms {
        Some(ms) if ms.abs() < 0.005 => "no delay".to_owned(),
        Some(ms) if ms < 0.0 => format!("delay {:.2} ms, the mix comes first", -ms),
        Some(ms) => format!("delay {ms:.2} ms"),
        None => "delay unknown".to_owned(),
    };
    let equalised = match compare.equalised {
        Some(true) => ", an equaliser or the like between",
        _ => "",
    };
    format!(
        "Beside the mix before the limiter ({way}, gain {}{equalised}): gain reduction {} at the \
         median hit, {} at most; lost peak {} at matched loudness.",
        signed(compare.gain_db, "dB"),
        value(compare.reduction_db_median, "dB"),
        value(compare.reduction_db_max, "dB"),
        value(compare.lost_db_median, "dB"),
    )
}

//! The comparison with another version of the mix, or with a reference.

use maud::{Markup, html};

use super::fields::facts;
use super::number::units;
use super::piece::section;
use crate::report::Report;
use crate::words::{self, page as say};

/// Its numbers, the ones that decide first.
const NUMBERS: [&str; 8] = [
    "lost_db_median",
    "contrast_difference_db",
    "reduction_db_median",
    "reduction_db_p90",
    "reduction_db_max",
    "band_difference_db",
    "gain_db",
    "delay_ms",
];

pub(super) fn render(report: &Report) -> Markup {
    let compare = report.compare.as_ref().and_then(|compare| serde_json::to_value(compare).ok());
    let Some(compare) = compare.filter(|compare| !compare.is_null()) else { return html! {} };
    let input = report.compare.as_ref().and_then(|compare| compare.input);
    let damage = input.as_ref().and_then(words::input_says);
    let role = compare.get("role").and_then(serde_json::Value::as_str).unwrap_or_default();
    section(
        "compare",
        say::COMPARE,
        html! {
            p.caption { (say::compare_caption(role)) }
            @if let Some(damage) = &damage { p.caption { (units(damage)) } }
            (facts("/compare", &compare, &NUMBERS, say::compare_fact))
        },
    )
}

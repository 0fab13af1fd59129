//! The parts that were measured beside the mix, one card each.

use maud::{Markup, html};
use serde_json::Value;

use super::fields::facts;
use super::section;
use crate::report::Report;
use crate::words::{self, page as say};

pub(super) fn render(report: &Report) -> Markup {
    // The form of a part is the JSON's: what is added there and has words is shown here.
    let parts: Vec<Value> =
        report.parts.iter().filter_map(|part| serde_json::to_value(part).ok()).collect();
    if parts.is_empty() {
        return html! {};
    }
    let timing = report.timing.as_ref().and_then(|timing| serde_json::to_value(timing).ok());
    section(
        "parts",
        say::PARTS,
        html! {
            p.caption { (say::PARTS_CAPTION) }
            @if let Some(timing) = &timing { (facts("/timing", timing, say::timing_fact)) }
            @for (index, part) in parts.iter().enumerate() {
                article.card {
                    h3 { (title(part)) }
                    (facts(&format!("/parts/{index}"), part, say::part_fact))
                }
            }
        },
    )
}

/// The part's role, with its file where there is one.
fn title(part: &Value) -> Markup {
    let word = |name: &str| part.get(name).and_then(Value::as_str).unwrap_or_default();
    let mut file = word("file");
    if words::is_file(file) {
        file = file.rsplit(['/', '\\']).next().unwrap_or_default();
    }
    html! {
        span.name { (word("role")) }
        @if !file.is_empty() { span.meaning { (file) } }
    }
}

//! Facts of a part or a comparison: every number of the JSON that has words, with its unit.

use maud::{Markup, html};
use serde_json::Value;

use super::number::{data, number};
use crate::words::page::Fact;

/// Bands in the order of frequency; the JSON has them in that of letters.
const BANDS: [&str; 3] = ["low", "mid", "high"];

/// The numbers `names` of `value`, which stands at `place` in the JSON, as a grid of names and
/// values.
pub(super) fn facts(
    place: &str,
    value: &Value,
    names: &[&str],
    words: fn(&str) -> Option<Fact>,
) -> Markup {
    let known = names.iter().filter_map(|name| Some((*name, value.get(name)?, words(name)?)));
    html! {
        dl.facts-grid {
            @for (name, value, fact) in known {
                div {
                    dt { (fact.label) }
                    dd { (shown(&format!("{place}/{name}"), value, fact.unit)) }
                    @if !fact.meaning.is_empty() { dd.definition { (fact.meaning) } }
                }
            }
        }
    }
}

/// One number; a list or a group of numbers as their names and values; a list of times as a count.
pub(super) fn shown(place: &str, value: &Value, unit: &str) -> Markup {
    match value {
        Value::Object(fields) => {
            let mut fields: Vec<_> = fields.iter().collect();
            fields.sort_by_key(|(name, _)| BANDS.iter().position(|band| name.starts_with(band)));
            html! {
                @for (k, (name, value)) in fields.into_iter().enumerate() {
                    @if k > 0 { ", " }
                    (plain(name)) " " (shown(&format!("{place}/{name}"), value, unit))
                }
            }
        }
        Value::Array(items) if unit.is_empty() => {
            html! { data value=(items.len()) { (items.len()) } }
        }
        Value::Array(items) => html! {
            @for (k, value) in items.iter().enumerate() {
                @if k > 0 { ", " }
                (shown(&format!("{place}/{k}"), value, unit))
            }
        },
        // A share reads best as a percentage, and keeps its number beside.
        Value::Number(x) if unit == "%" => {
            let share = x.as_f64().unwrap_or(f64::NAN);
            data(place, Some(share), &format!("{:.0} %", 100.0 * share))
        }
        Value::String(text) => html! { (text) },
        other => number(place, other.as_f64(), unit),
    }
}

/// A field's name without its unit, as words.
fn plain(name: &str) -> String {
    let name = ["_db", "_ms", "_s"].iter().find_map(|unit| name.strip_suffix(unit)).unwrap_or(name);
    name.replace('_', " ")
}

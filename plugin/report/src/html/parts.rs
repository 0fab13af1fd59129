//! The parts that were measured beside the mix: a table for each leak that they show, a row each.

use maud::{Markup, html};
use serde_json::Value;

use super::fields::{facts, shown};
use super::number::{minus, units};
use super::piece::section;
use crate::report::{PartReport, Report, TimingReport};
use crate::words::{self, page as say};

/// Fields of a part in the JSON, in the columns of one leak's table.
struct Table {
    title: &'static str,
    columns: &'static [&'static str],
    /// The column that matters most.
    main: &'static str,
    /// Whether a part without any of these numbers, and of which nothing is said, is left out.
    some_parts: bool,
    /// What is said under a part; the second argument is the part that the others are read against.
    says: fn(&PartReport, Option<&TimingReport>) -> Vec<String>,
}

const TABLES: [Table; 5] = [
    Table {
        title: say::PARTS_LEVELS,
        columns: &["if_muted_db", "if_3db_lower_db"],
        main: "if_muted_db",
        some_parts: true,
        says: |_, _| Vec::new(),
    },
    Table {
        title: say::PARTS_CEILING,
        columns: &[
            "ceiling/implied_reduction_db",
            "ceiling/implied_reduction_low_db",
            "ceiling/implied_reduction_high_db",
            "ceiling/implied_reduction_p90_db",
        ],
        main: "ceiling/implied_reduction_db",
        some_parts: true,
        says: |part, _| part.ceiling.iter().map(|ceiling| ceiling.says.clone()).collect(),
    },
    Table {
        title: say::PARTS_TIMING,
        columns: &["onsets_s", "offset_ms", "spread_ms", "early_share", "leak_costs_db/timing"],
        main: "leak_costs_db/timing",
        some_parts: false,
        says: timing_says,
    },
    Table {
        title: say::PARTS_CLUTTER,
        columns: &[
            "shared_onset_ratio",
            "own_rhythm",
            "held_share",
            "sustain_ratio",
            "leak_costs_db/clutter",
        ],
        main: "leak_costs_db/clutter",
        some_parts: true,
        says: |_, _| Vec::new(),
    },
    Table {
        title: say::PARTS_DRIVE,
        columns: &[
            "attack_lost_db",
            "attack_to_sustain_db",
            "crest_db",
            "level_spread_db",
            "fill_db",
            "leak_costs_db/drive",
        ],
        main: "leak_costs_db/drive",
        some_parts: true,
        says: |_, _| Vec::new(),
    },
];

/// What the parts cost together.
const TOGETHER: [&str; 2] = ["offset_cost_db", "spread_cost_db"];

pub(super) fn render(report: &Report) -> Markup {
    let json = |part| serde_json::to_value(part).unwrap_or_default();
    let parts: Vec<Value> = report.parts.iter().map(json).collect();
    if parts.is_empty() {
        return html! {};
    }
    let timing = report.timing.as_ref().and_then(|timing| serde_json::to_value(timing).ok());
    section(
        "parts",
        say::PARTS,
        html! {
            p.caption { (say::PARTS_CAPTION) }
            @if let Some(timing) = &timing { (facts("/timing", timing, &TOGETHER, say::timing_fact)) }
            @for kind in &TABLES { (table(kind, report, &parts)) }
            (super::edits::render(report))
            @for double in report.timing.iter().flat_map(|timing| &timing.doubles) {
                p { (minus(&double.says)) }
            }
        },
    )
}

fn table(table: &Table, report: &Report, parts: &[Value]) -> Markup {
    let facts = || table.columns.iter().filter_map(|name| Some((*name, say::part_fact(name)?)));
    let known = |part: &Value| facts().any(|(name, _)| !at(part, name).is_null());
    let said =
        |index: usize| !(table.says)(&report.parts[index], report.timing.as_ref()).is_empty();
    let rows: Vec<(usize, &Value)> = parts
        .iter()
        .enumerate()
        .filter(|&(index, part)| !table.some_parts || known(part) || said(index))
        .collect();
    if rows.is_empty() {
        return html! {};
    }
    html! {
        h3 { (table.title) }
        table.parts {
            thead { tr {
                th scope="col" { (say::PART) }
                @for (_, fact) in facts() {
                    th scope="col" { (fact.label) }
                }
            } }
            tbody {
                @for (index, part) in rows {
                    tr {
                        th scope="row" { (title(part)) }
                        @for (name, fact) in facts() {
                            td.value.main[name == table.main] { (shown(&format!("/parts/{index}/{name}"), at(part, name), fact.unit)) }
                        }
                    }
                    @for says in (table.says)(&report.parts[index], report.timing.as_ref()) {
                        tr.under { td {} td colspan=(table.columns.len()) { (minus(&says)) } }
                    }
                }
            }
        }
        p.definition {
            @for (_, fact) in facts() { b { (fact.label) } ": " (units(fact.meaning)) " " }
        }
    }
}

/// Under a part in the table of timing: where it is loosest, or that the others are read against it;
/// that it sounds like another role than it was given; and how many of its samples are damaged.
fn timing_says(part: &PartReport, timing: Option<&TimingReport>) -> Vec<String> {
    let is = |file: &String| *file == part.file;
    let timing = if timing.is_some_and(|timing| timing.reference.as_ref().is_some_and(is)) {
        Some(say::THE_REFERENCE.to_owned())
    } else if timing.is_some_and(|timing| timing.reference_joined.iter().any(is)) {
        Some(say::JOINS_THE_REFERENCE.to_owned())
    } else {
        let worst = part.timing.as_ref().and_then(|timing| timing.passages().next());
        worst.as_ref().map(words::passage_says)
    };
    let damage = part.input.as_ref().and_then(words::input_says);
    timing.into_iter().chain(part.doubt()).chain(damage).collect()
}

/// What stands at a place of a part.
fn at<'a>(part: &'a Value, place: &str) -> &'a Value {
    part.pointer(&format!("/{place}")).unwrap_or(&Value::Null)
}

/// The part's name, with its role where the name does not say it.
fn title(part: &Value) -> Markup {
    let word = |name: &str| at(part, name).as_str().unwrap_or_default();
    let (role, mut file) = (word("role"), word("file"));
    if words::is_file(file) {
        file = file.rsplit(['/', '\\']).next().unwrap_or_default();
    }
    html! {
        @if file.is_empty() || file == role {
            b { (role) }
        } @else {
            b { (file) } " " span.unit { (role) }
        }
    }
}

//! The notes to move that cost most.

use maud::{Markup, html};

use super::number::{difference, number};
use crate::report::Report;
use crate::words::{edits as say, seconds};

/// Most rows. Ours: a screen.
const MOST: usize = 15;

pub(super) fn render(report: &Report) -> Markup {
    let edits = report.timing.as_ref().map_or(&[][..], |timing| &timing.edits);
    if edits.is_empty() {
        return html! {};
    }
    let shown = edits.len().min(MOST);
    let bars = edits.iter().any(|edit| edit.bar.is_some());
    let place = |k: usize, field: &str| format!("/timing/edits/{k}/{field}");
    html! {
        h3 { (say::TITLE) }
        table.edits {
            thead {
                tr {
                    @for (k, head) in say::COLUMNS.iter().enumerate().filter(|(k, _)| bars || *k != 2) {
                        th.value[k > 0] scope="col" { (head) }
                    }
                }
            }
            tbody {
                @for (k, edit) in edits.iter().take(MOST).enumerate() {
                    tr {
                        th scope="row" { (edit.part) }
                        td.value { (seconds(edit.time_s)) }
                        @if bars {
                            td.value { @if let (Some(bar), Some(beat)) = (edit.bar, edit.beat) { (bar) "." (format!("{beat:.1}")) } }
                        }
                        td.value { (difference(&place(k, "move_ms"), Some(edit.move_ms), "ms")) " (" (edit.lies) ")" }
                        td.value { (number(&place(k, "cost_db"), edit.cost_db, "dB")) }
                    }
                }
            }
        }
        p.caption { (say::caption(shown, edits.len())) }
    }
}

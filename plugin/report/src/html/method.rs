//! How it was measured.

use maud::{Markup, html};

use super::piece::section;
use crate::report::Report;
use crate::words::page as say;

pub(super) fn render(report: &Report) -> Markup {
    let limits = super::leaks::limits(report);
    let version = report.made.as_ref().map(|made| made.version.as_str());
    section(
        "method",
        say::METHOD,
        html! {
            @for text in say::method(version, limits.watch_db, limits.leaking_db) { p { (text) } }
        },
    )
}

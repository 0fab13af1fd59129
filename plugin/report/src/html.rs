//! The report as one HTML page: nothing to load, nothing to run, readable on a screen of any
//! width and on A4 paper.
//!
//! Every number of the report stands in a `<data>` element that carries the whole number in
//! `value` and its place in the JSON in `data-json`; the JSON itself is in the page too. Pictures
//! are inline SVG, stretched to the width there is, with their labels as text outside of it.

mod balance;
mod colours;
mod compare;
mod edits;
mod fields;
mod head;
mod history;
mod hits;
mod leaks;
pub mod listen;
mod method;
mod number;
mod parts;
mod piece;
mod plot;
mod readings;
mod shape;
mod sign;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::report::Report;
use crate::words::{self, page as say};

pub use colours::{Colours, DARK, LIGHT};

/// The looks. Its colours are variables that [`colours`] fills.
const STYLE: &str = include_str!("html/page.css");

/// The report as a page.
#[must_use]
pub fn page(report: &Report) -> String {
    let name = head::name(report);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            // Whatever a name in the report may hold, a browser loads and runs nothing.
            (head_of(&name, say::TITLE, "style-src 'unsafe-inline'", ""))
            body {
                header { (head::render(report, &name)) }
                main {
                    (leaks::render(report))
                    (hits::render(report))
                    (shape::render(report))
                    (history::render(report))
                    (balance::render(report))
                    (parts::render(report))
                    (compare::render(report))
                    (readings::render(report))
                    (method::render(report))
                }
                (care())
                (data("brunt-check", &serde_json::to_string(report).unwrap_or_default()))
            }
        }
    };
    page.into_string()
}

/// A page's head: of the file `name`, with the looks of every page and `style` on top. Nothing is loaded;
/// `allowed` is what else its policy allows.
fn head_of(name: &str, title: &str, allowed: &str, style: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta http-equiv="Content-Security-Policy"
                content=(format!("default-src 'none'; {allowed}; img-src data:"));
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (name) " \u{2013} " (title) }
            link rel="icon" href="data:,";
            style { (PreEscaped(colours::variables())) (PreEscaped(STYLE)) (PreEscaped(style)) }
        }
    }
}

/// A page's end: the cautions.
fn care() -> Markup {
    html! {
        footer {
            h2 { (say::CARE) }
            ul { @for line in words::caution() { li { (line) } } }
        }
    }
}

/// JSON as a block of data, which no browser runs. A sentence in it cannot end the block: `<` is
/// written as its escape, which JSON reads as the same letter.
fn data(id: &str, json: &str) -> Markup {
    html! { script type="application/json" id=(id) { (PreEscaped(json.replace('<', "\\u003c"))) } }
}

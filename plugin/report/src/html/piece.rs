//! A piece of the page.

use maud::{Markup, html};

/// A section with its title.
pub(super) fn section(id: &str, title: &str, body: Markup) -> Markup {
    html! {
        section id=(id) {
            h2 { (title) }
            (body)
        }
    }
}

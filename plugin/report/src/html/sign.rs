//! One shape for each state, as in the editor: a dotted ring for unknown, a tick for clear, a
//! hollow drop for watch, a filled drop over its pool for leaking.

use brunt_engine::State;
use maud::{Markup, html};

/// The sign of a state. The word always stands beside it, so that readers skip the picture.
pub(super) fn state(state: State) -> Markup {
    html! {
        svg.sign viewBox="0 0 20 20" aria-hidden="true" {
            @match state {
                State::Unknown => circle.ring cx="10" cy="10" r="7" {},
                State::Clear => path.tick d="M3.5 10.5 8 15.5 17 4.5" {},
                State::Watch => path.drop d=(DROP) {},
                State::Leaking => {
                    path.full d=(DROP) {}
                    path.pool d="M3.5 19h13" {}
                }
            }
        }
    }
}

const DROP: &str = "M10 1.2 14.6 8.6A5.5 5.5 0 1 1 5.4 8.6Z";

/// The mark of Brunt: three stems on their ground, the middle one with its hollow cap.
pub(super) fn mark() -> Markup {
    html! {
        svg.mark viewBox="0 0 24 22" aria-hidden="true" {
            path.stem d="M1 4h6v15H1zM9 10h6v9H9zM17 6.5h6V19h-6z" {}
            path.cap d="M9.6 1.6h4.8v6.3H9.6z" {}
            path.bed d="M0 20.5h24" {}
        }
    }
}

//! The few styles of the page: bold for names, and one colour a state.

use anstyle::{AnsiColor, Style};
use brunt_engine::State;

/// Puts a style around a text.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paint(Style);

/// No style.
pub(super) const PLAIN: Paint = Paint(Style::new());

impl Paint {
    pub(super) fn paint(self, text: &str) -> String {
        format!("{}{text}{:#}", self.0, self.0)
    }

    /// The same, bold.
    pub(super) fn or_bold(self) -> Self {
        Self(self.0.bold())
    }
}

pub(super) fn bold(text: &str) -> String {
    PLAIN.or_bold().paint(text)
}

/// The colour of a state. The word is always next to it.
pub(super) fn state_style(state: State) -> Paint {
    Paint(match state {
        State::Unknown => Style::new().dimmed(),
        State::Clear => AnsiColor::Green.on_default(),
        State::Watch => AnsiColor::Yellow.on_default(),
        State::Leaking => AnsiColor::Red.on_default(),
    })
}

//! The picture: a pure function of what is measured and what is set.

use crate::display::{Controls, Display};

/// What the view remembers between frames.
#[derive(Debug, Default)]
pub struct ViewState {}

/// Draws one frame.
pub fn show(
    ui: &mut egui::Ui,
    display: &Display,
    controls: &mut dyn Controls,
    state: &mut ViewState,
) {
    let _ = (ui, display, controls, state);
}

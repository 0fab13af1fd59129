//! What every part of the screen is given.

use egui::Ui;

use super::layout::Layout;
use super::theme::Palette;
use super::widgets::Look;
use crate::display::Display;
use crate::params::Role;

/// One frame's input, and how to draw it.
#[derive(Clone, Copy)]
pub struct Scene<'a> {
    /// What was measured.
    pub display: &'a Display,
    /// Colours.
    pub palette: &'a Palette,
    /// Places and sizes.
    pub layout: &'a Layout,
    /// What this instance sits on.
    pub role: Role,
}

impl<'a> Scene<'a> {
    /// How controls are drawn.
    #[must_use]
    pub fn look(&self) -> Look<'a> {
        Look { palette: self.palette, size: self.layout.sizes.label }
    }

    /// An identity that holds from frame to frame.
    #[must_use]
    pub fn id(&self, ui: &Ui, name: &str) -> egui::Id {
        ui.scope_id().with(name)
    }
}

/// One decimal without a unit, or a dash while unknown. The unit stands beside it.
#[must_use]
pub fn number(x: Option<f64>) -> String {
    match x {
        Some(x) if x.is_finite() => brunt_report::words::value(Some(x), ""),
        _ => "\u{2013}".to_owned(),
    }
}

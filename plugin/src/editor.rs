//! The window.

use std::sync::Arc;

use nice_plug_egui::{EguiEditor, Frame, NiceEguiApp};

use crate::bridge::Bridge;
use crate::params::BruntParams;

pub mod view;

/// What runs while the window is open.
pub struct App;

impl NiceEguiApp for App {
    fn ui(&mut self, _ui: &mut egui::Ui, _frame: &mut Frame) {}
}

/// Builds the editor of one plug-in instance.
pub(crate) fn create(params: Arc<BruntParams>, bridge: Arc<Bridge>) -> Option<EguiEditor<App>> {
    let _ = (params, bridge);
    None
}

//! The editor's controls over the host's parameters.

use brunt_engine::Thresholds;
use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::*;

use crate::audition::Heard;
use crate::bridge::Bridge;
use crate::display::{Controls, UI_SCALE_RANGE};
use crate::params::{BruntParams, Role, SideRole, TRIM_RANGE_MS};
use crate::state::Theme;

/// Changes parameters through the host, so that it can record and undo them.
pub struct HostControls<'a> {
    params: &'a BruntParams,
    bridge: &'a Bridge,
    context: &'a GuiContext,
}

impl<'a> HostControls<'a> {
    /// Controls of one instance; `context` is the one given to the editor when it was built.
    #[must_use]
    pub fn new(params: &'a BruntParams, bridge: &'a Bridge, context: &'a GuiContext) -> Self {
        Self { params, bridge, context }
    }

    /// One whole gesture. A value that stands already is not sent again: some hosts would mark
    /// the project as changed.
    fn set<P: Param>(&self, param: &P, value: P::Plain) {
        if param.unmodulated_plain_value() == value {
            return;
        }
        let setter = self.context.param_setter();
        setter.begin_set_parameter(param);
        setter.set_parameter(param, value);
        setter.end_set_parameter(param);
    }
}

impl Controls for HostControls<'_> {
    fn bypass(&self) -> bool {
        self.params.bypass.value()
    }

    fn set_bypass(&mut self, on: bool) {
        self.set(&self.params.bypass, on);
    }

    fn side_role(&self) -> SideRole {
        self.params.side_role.value()
    }

    fn set_side_role(&mut self, role: SideRole) {
        self.set(&self.params.side_role, role);
    }

    fn listen(&self) -> Heard {
        self.params.heard()
    }

    fn set_listen(&mut self, heard: Heard) {
        self.set(&self.params.listen, heard.into());
        // The parameter may have stood there since the session was loaded.
        self.bridge.set_chosen(true);
    }

    fn role(&self) -> Role {
        self.params.role.value()
    }

    fn set_role(&mut self, role: Role) {
        self.set(&self.params.role, role);
    }

    fn part_name(&self) -> String {
        self.bridge.links().own_name().unwrap_or_default()
    }

    fn set_part_name(&mut self, name: &str) {
        self.bridge.links().set_own_name(name);
    }

    fn trim_ms(&self) -> f64 {
        f64::from(self.params.trim_ms.value())
    }

    fn set_trim_ms(&mut self, ms: f64) {
        let (min, max) = TRIM_RANGE_MS;
        self.set(&self.params.trim_ms, (ms as f32).clamp(min, max));
    }

    fn set_reference(&mut self, path: &str) {
        self.bridge.reference().load(path);
    }

    fn reset(&mut self) {
        // Not through the parameter: it would only act once audio runs again.
        self.bridge.request_reset();
    }

    fn keep_pass(&mut self) {
        self.bridge.keep_pass();
    }

    fn forget_kept(&mut self, number: u32) {
        self.bridge.forget_kept(number);
    }

    fn export_report(&mut self) {
        self.bridge.export_report();
    }

    fn follow_transport(&self) -> bool {
        self.params.follow_transport.value()
    }

    fn set_follow_transport(&mut self, on: bool) {
        self.set(&self.params.follow_transport, on);
    }

    fn thresholds(&self) -> Thresholds {
        self.params.thresholds()
    }

    fn set_thresholds(&mut self, thresholds: Thresholds) {
        self.set(&self.params.watch_db, thresholds.watch_db as f32);
        self.set(&self.params.leaking_db, thresholds.leaking_db as f32);
    }

    fn ui_scale(&self) -> f32 {
        self.params.window.read().scale
    }

    fn set_ui_scale(&mut self, scale: f32) {
        if scale.is_finite() {
            self.params.window.write().scale = scale.clamp(UI_SCALE_RANGE.0, UI_SCALE_RANGE.1);
        }
    }

    fn theme(&self) -> Theme {
        self.params.window.read().theme
    }

    fn set_theme(&mut self, theme: Theme) {
        self.params.window.write().theme = theme;
    }
}

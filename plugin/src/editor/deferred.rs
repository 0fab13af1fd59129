//! Controls that take effect after the frame.

use brunt_engine::Thresholds;

use crate::audition::Heard;
use crate::display::Controls;
use crate::params::{Role, SideRole};
use crate::state::Theme;

/// One change.
enum Change {
    Bypass(bool),
    SideRole(SideRole),
    Listen(Heard),
    Role(Role),
    PartName(String),
    Trim(f64),
    Reference(String),
    Reset,
    KeepPass,
    ForgetKept(u32),
    ExportReport,
    FollowTransport(bool),
    Thresholds(Thresholds),
    UiScale(f32),
    Theme(Theme),
}

/// Collects changes while the display is borrowed, and makes them when it no longer is.
pub struct Deferred<'a> {
    inner: &'a mut dyn Controls,
    changes: Vec<Change>,
}

impl<'a> Deferred<'a> {
    /// Wraps `inner`; what it tells is told at once, what is set waits for [`Self::apply`].
    pub fn new(inner: &'a mut dyn Controls) -> Self {
        Self { inner, changes: Vec::new() }
    }

    /// Makes the changes in their order; whether there were any.
    pub fn apply(self) -> bool {
        let any = !self.changes.is_empty();
        for change in self.changes {
            match change {
                Change::Bypass(on) => self.inner.set_bypass(on),
                Change::SideRole(role) => self.inner.set_side_role(role),
                Change::Listen(heard) => self.inner.set_listen(heard),
                Change::Role(role) => self.inner.set_role(role),
                Change::PartName(name) => self.inner.set_part_name(&name),
                Change::Trim(ms) => self.inner.set_trim_ms(ms),
                Change::Reference(path) => self.inner.set_reference(&path),
                Change::Reset => self.inner.reset(),
                Change::KeepPass => self.inner.keep_pass(),
                Change::ForgetKept(number) => self.inner.forget_kept(number),
                Change::ExportReport => self.inner.export_report(),
                Change::FollowTransport(on) => self.inner.set_follow_transport(on),
                Change::Thresholds(limits) => self.inner.set_thresholds(limits),
                Change::UiScale(scale) => self.inner.set_ui_scale(scale),
                Change::Theme(theme) => self.inner.set_theme(theme),
            }
        }
        any
    }
}

impl Controls for Deferred<'_> {
    fn bypass(&self) -> bool {
        self.inner.bypass()
    }

    fn set_bypass(&mut self, on: bool) {
        self.changes.push(Change::Bypass(on));
    }

    fn side_role(&self) -> SideRole {
        self.inner.side_role()
    }

    fn set_side_role(&mut self, role: SideRole) {
        self.changes.push(Change::SideRole(role));
    }

    fn listen(&self) -> Heard {
        self.inner.listen()
    }

    fn set_listen(&mut self, heard: Heard) {
        self.changes.push(Change::Listen(heard));
    }

    fn role(&self) -> Role {
        self.inner.role()
    }

    fn set_role(&mut self, role: Role) {
        self.changes.push(Change::Role(role));
    }

    fn part_name(&self) -> String {
        self.inner.part_name()
    }

    fn set_part_name(&mut self, name: &str) {
        self.changes.push(Change::PartName(name.to_owned()));
    }

    fn trim_ms(&self) -> f64 {
        self.inner.trim_ms()
    }

    fn set_trim_ms(&mut self, ms: f64) {
        self.changes.push(Change::Trim(ms));
    }

    fn set_reference(&mut self, path: &str) {
        self.changes.push(Change::Reference(path.to_owned()));
    }

    fn reset(&mut self) {
        self.changes.push(Change::Reset);
    }

    fn keep_pass(&mut self) {
        self.changes.push(Change::KeepPass);
    }

    fn forget_kept(&mut self, number: u32) {
        self.changes.push(Change::ForgetKept(number));
    }

    fn export_report(&mut self) {
        self.changes.push(Change::ExportReport);
    }

    fn follow_transport(&self) -> bool {
        self.inner.follow_transport()
    }

    fn set_follow_transport(&mut self, on: bool) {
        self.changes.push(Change::FollowTransport(on));
    }

    fn thresholds(&self) -> Thresholds {
        self.inner.thresholds()
    }

    fn set_thresholds(&mut self, thresholds: Thresholds) {
        self.changes.push(Change::Thresholds(thresholds));
    }

    fn ui_scale(&self) -> f32 {
        self.inner.ui_scale()
    }

    fn set_ui_scale(&mut self, scale: f32) {
        self.changes.push(Change::UiScale(scale));
    }

    fn theme(&self) -> Theme {
        self.inner.theme()
    }

    fn set_theme(&mut self, theme: Theme) {
        self.changes.push(Change::Theme(theme));
    }
}

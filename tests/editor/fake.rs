//! Controls over plain fields.

use brunt::audition::Heard;
use brunt::display::Controls;
use brunt::{Role, SideRole, Theme};
use brunt_engine::Thresholds;

#[derive(Clone, Debug, PartialEq)]
pub struct Fake {
    pub bypass: bool,
    pub side_role: SideRole,
    pub listen: Heard,
    pub role: Role,
    pub part_name: String,
    pub trim_ms: f64,
    pub reference: String,
    pub resets: u32,
    pub keeps: u32,
    pub forgotten: Vec<u32>,
    pub exports: u32,
    pub follow_transport: bool,
    pub thresholds: Thresholds,
    pub ui_scale: f32,
    pub theme: Theme,
}

impl Default for Fake {
    fn default() -> Self {
        Self {
            bypass: false,
            side_role: SideRole::Off,
            listen: Heard::Mix,
            role: Role::Mix,
            part_name: String::new(),
            trim_ms: 0.0,
            reference: String::new(),
            resets: 0,
            keeps: 0,
            forgotten: Vec::new(),
            exports: 0,
            follow_transport: false,
            thresholds: Thresholds::default(),
            ui_scale: 1.0,
            theme: Theme::Dark,
        }
    }
}

impl Controls for Fake {
    fn bypass(&self) -> bool {
        self.bypass
    }
    fn set_bypass(&mut self, on: bool) {
        self.bypass = on;
    }
    fn side_role(&self) -> SideRole {
        self.side_role
    }
    fn set_side_role(&mut self, role: SideRole) {
        self.side_role = role;
    }
    fn listen(&self) -> Heard {
        self.listen
    }
    fn set_listen(&mut self, heard: Heard) {
        self.listen = heard;
    }
    fn role(&self) -> Role {
        self.role
    }
    fn set_role(&mut self, role: Role) {
        self.role = role;
    }
    fn part_name(&self) -> String {
        self.part_name.clone()
    }
    fn set_part_name(&mut self, name: &str) {
        self.part_name = name.to_owned();
    }
    fn trim_ms(&self) -> f64 {
        self.trim_ms
    }
    fn set_trim_ms(&mut self, ms: f64) {
        self.trim_ms = ms;
    }
    fn set_reference(&mut self, path: &str) {
        self.reference = path.to_owned();
    }
    fn reset(&mut self) {
        self.resets += 1;
    }
    fn keep_pass(&mut self) {
        self.keeps += 1;
    }
    fn forget_kept(&mut self, number: u32) {
        self.forgotten.push(number);
    }
    fn export_report(&mut self) {
        self.exports += 1;
    }
    fn follow_transport(&self) -> bool {
        self.follow_transport
    }
    fn set_follow_transport(&mut self, on: bool) {
        self.follow_transport = on;
    }
    fn thresholds(&self) -> Thresholds {
        self.thresholds
    }
    fn set_thresholds(&mut self, thresholds: Thresholds) {
        self.thresholds = thresholds;
    }
    fn ui_scale(&self) -> f32 {
        self.ui_scale
    }
    fn set_ui_scale(&mut self, scale: f32) {
        self.ui_scale = scale;
    }
    fn theme(&self) -> Theme {
        self.theme
    }
    fn set_theme(&mut self, theme: Theme) {
        self.theme = theme;
    }
}

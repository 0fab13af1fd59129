//! Brunt, a punch meter: the plug-in.

pub mod bridge;
pub mod controls;
pub mod display;
pub mod editor;
pub mod params;
mod plugin;
pub mod state;

pub use params::{BruntParams, SideRole};
pub use plugin::Brunt;
pub use state::Theme;

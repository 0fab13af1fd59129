//! What a session keeps besides the parameters.

use serde::{Deserialize, Serialize};

use crate::display::UI_SCALE_RANGE;

/// Look of the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// Light signs on a dark ground.
    #[default]
    Dark,
    /// Dark signs on a light ground.
    Light,
}

/// Size and look of the window.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Window {
    /// Width, logical pixels at scale 1.
    pub width: f32,
    /// Height, logical pixels at scale 1.
    pub height: f32,
    /// Scale of the interface, within [`UI_SCALE_RANGE`].
    pub scale: f32,
    /// Dark or light.
    pub theme: Theme,
}

impl Default for Window {
    fn default() -> Self {
        Self { width: 960.0, height: 600.0, scale: UI_SCALE_RANGE.0, theme: Theme::Dark }
    }
}

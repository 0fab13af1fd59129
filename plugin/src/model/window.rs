//! Size and look of the window.

use serde::{Deserialize, Serialize};

/// Smallest and largest interface scale.
pub const UI_SCALE_RANGE: (f32, f32) = (1.0, 3.0);

/// Largest width and height taken from a saved window, logical pixels: about an 8K display.
const MAX_WINDOW: f32 = 8192.0;

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

impl Window {
    /// The nearest window that can be opened. A host may have reported a size of nothing while it
    /// closed, or a display may be gone: neither is a reason to lose a session's settings.
    pub(crate) fn clamped(self) -> Self {
        let fallback = Self::default();
        let side = |x: f32, usual: f32| {
            if x.is_finite() && x >= 1.0 { x.min(MAX_WINDOW) } else { usual }
        };
        Self {
            width: side(self.width, fallback.width),
            height: side(self.height, fallback.height),
            scale: if self.scale.is_finite() {
                self.scale.clamp(UI_SCALE_RANGE.0, UI_SCALE_RANGE.1)
            } else {
                fallback.scale
            },
            theme: self.theme,
        }
    }
}

//! What the editor remembers between frames.

use std::sync::Arc;

use super::song::Sections;
use crate::display::Display;
use crate::export::Exported;
use crate::model::window::Theme;

/// What the large panel shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// The last bars.
    #[default]
    Hits,
    /// The whole song.
    Song,
    /// The parts.
    Parts,
    /// The side-chain beside the mix.
    Compare,
}

/// What the comparison is looked at by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Picture {
    /// The shape of a hit.
    #[default]
    Shape,
    /// Third octaves.
    Spectrum,
    /// Numbers.
    Numbers,
}

/// What the view remembers between frames.
#[derive(Debug, Default)]
pub struct ViewState {
    /// Number of the hit whose numbers are shown, as in
    /// [`Hit::index`](brunt_engine::Hit::index).
    pub marked: Option<u64>,
    /// What the large panel shows.
    pub view: View,
    /// What the comparison is looked at by.
    pub compare: Picture,
    /// The drum whose hits have the shape in the picture, by its word in the JSON; all hits where `None`.
    pub drum: Option<String>,
    /// The display as it was when it was frozen.
    pub frozen: Option<Arc<Display>>,
    /// Number of the kept pass to compare with; the newest where `None`.
    pub kept: Option<u32>,
    /// The stretch of the song in the picture, s; the whole where `None`.
    pub range: Option<(f64, f64)>,
    /// The moment of the song whose numbers are shown, s.
    pub moment: Option<f64>,
    /// The sections of the song.
    pub(super) sections: Sections,
    /// The news of a report that has been read and closed.
    pub read: Exported,
    /// The path of a reference while it is being typed.
    pub typed: Option<String>,
    /// The first row of the parts in sight, where they are more than fit.
    pub first_part: f32,
    /// The name of the part while it is being typed.
    pub named: Option<String>,
    /// The theme that egui's own widgets were last told of.
    pub(super) theme: Option<Theme>,
}

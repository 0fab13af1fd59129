//! What the parts show, and the mix that it was measured on.

use brunt_engine::parts::PartsReading;
use brunt_engine::parts::buried::Strokes;
use brunt_engine::parts::remix::{Remix, Undone};

/// What the parts show.
pub(crate) struct Shown {
    /// By the parts' powers alone, as live.
    pub(crate) estimated: PartsReading,
    /// Measured again on their audio, as far as it could be.
    pub(crate) reading: PartsReading,
    /// What that was measured on; `None` where it was not.
    pub(crate) heard: Option<Heard>,
}

/// The mix that the costs were measured on.
pub(crate) struct Heard {
    pub(crate) remix: Remix,
    /// What takes each cause out of it.
    pub(crate) undone: Undone,
    /// Its hits, those of the drums that it drowns among them; frames from the passage's start.
    pub(crate) strokes: Strokes,
}

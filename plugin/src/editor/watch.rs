//! Asks for a frame when there is something new to draw, and only then.

use std::sync::Arc;
use std::thread;
use std::time::Duration;

use nice_plug_egui::{EguiEditorState, RepaintNotifier};

use crate::bridge::Bridge;
use crate::worker::{Stop, Worker};

/// Shortest time between two frames: 60 a second.
pub const FRAME: Duration = Duration::from_nanos(16_666_667);
/// Time between two looks while nothing has changed for a second.
const IDLE: Duration = Duration::from_millis(50);

/// A thread on the GUI's side that looks for news. The audio thread knows nothing of it, and a
/// look costs some microseconds; the window draws a frame only when a look has found something.
#[derive(Debug)]
pub struct Watch {
    /// Ends with this.
    _worker: Worker,
}

impl Watch {
    /// Starts to look. `None` if the system gives no thread: the window then draws only when the
    /// pointer or a parameter moves.
    pub fn start(
        bridge: Arc<Bridge>,
        window: Arc<EguiEditorState>,
        notifier: RepaintNotifier,
    ) -> Option<Self> {
        let look = move |stop: &Stop| {
            let (mut seen, mut quiet, mut opened) = (None, 0_u32, false);
            while !stop.is_set() {
                // The framework does not tell the app that its window has closed.
                if opened && !window.is_open() {
                    return;
                }
                opened |= window.is_open();
                let now = Some(bridge.collect().generation);
                if now == seen {
                    quiet = quiet.saturating_add(1);
                } else {
                    (seen, quiet) = (now, 0);
                    notifier.request_repaint();
                }
                thread::park_timeout(if quiet < 60 { FRAME } else { IDLE });
            }
        };
        Some(Self { _worker: Worker::start("brunt-editor", look).ok()? })
    }
}

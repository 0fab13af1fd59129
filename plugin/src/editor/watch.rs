//! Asks for a frame when there is something new to draw, and only then.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use nice_plug_egui::{EguiEditorState, RepaintNotifier};

use crate::bridge::Bridge;

/// Shortest time between two frames: 60 a second.
pub const FRAME: Duration = Duration::from_nanos(16_666_667);
/// Time between two looks while nothing has changed for a second.
const IDLE: Duration = Duration::from_millis(50);

/// A thread on the GUI's side that looks for news. The audio thread knows nothing of it, and a
/// look costs some microseconds; the window draws a frame only when a look has found something.
#[derive(Debug)]
pub struct Watch {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Watch {
    /// Starts to look. `None` if the system gives no thread: the window then draws only when the
    /// pointer or a parameter moves.
    pub fn start(
        bridge: Arc<Bridge>,
        window: Arc<EguiEditorState>,
        notifier: RepaintNotifier,
    ) -> Option<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let look = move || {
            let (mut seen, mut quiet, mut opened) = (None, 0_u32, false);
            // Relaxed: the flag carries no other data.
            while !stopped.load(Ordering::Relaxed) {
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
        let thread = thread::Builder::new().name("brunt-editor".to_owned()).spawn(look).ok()?;
        Some(Self { stop, thread: Some(thread) })
    }
}

impl Drop for Watch {
    /// Waits for the thread: a host may unload the library right after.
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A panic in there has been reported by its own thread; closing goes on.
            let _ = thread.join();
        }
    }
}

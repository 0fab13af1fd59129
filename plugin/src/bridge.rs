//! From the audio thread to the window: atomics for the newest values, bounded queues for streams.
//!
//! - The audio thread only writes atomics and pushes to queues that were allocated in
//!   [`Bridge::default`]. A full queue drops its oldest item, and the drop is counted.
//! - [`Bridge::collect`] drains the queues into a [`Display`] behind a mutex that the audio thread
//!   never touches. The editor calls it for a frame, and saving a session calls it too.
//! - Every reset starts a new *epoch*. Each item carries the epoch that it belongs to, so nothing
//!   measured before a reset can show up after it, whatever the two sides' timing.
//!
//! `ArrayQueue` can make a pusher spin while a popper is in the middle of one pop *and* the
//! pusher has gone round the whole queue meanwhile. A pop copies under 2 kB; the shortest queue
//! takes 1.2 s of programme to go round.

mod collector;
#[allow(clippy::duplicate_mod, reason = "the model checker takes it in as well")]
mod epoch;
mod feed;
mod listening;
#[cfg(test)]
mod model;
mod wires;

/// Where [`epoch`] takes its atomics from.
mod sync {
    pub(super) use std::sync::atomic::{AtomicU64, Ordering};
}

use std::ops::Deref;
use std::sync::atomic::Ordering;

use brunt_report::report::Report;
use parking_lot::{MappedMutexGuard, Mutex, MutexGuard};

use crate::display::Display;
use crate::kept::{self, KeptPass};
use crate::state::SavedPass;
use collector::Collector;
pub(crate) use feed::Feed;
pub use wires::Wires;

/// Carries what is measured from the audio thread to the GUI side. See the module's head.
#[derive(Default)]
pub struct Bridge {
    wires: Wires,
    collector: Mutex<Collector>,
}

impl Deref for Bridge {
    type Target = Wires;

    fn deref(&self) -> &Wires {
        &self.wires
    }
}

impl Bridge {
    /// Drains the queues and gives everything there is to draw. GUI side only: it locks.
    pub fn collect(&self) -> MappedMutexGuard<'_, Display> {
        MutexGuard::map(self.collector.lock(), |collector| collector.drain(self))
    }

    /// Says whether what is heard was chosen by hand: what comes from a loaded state was not.
    pub fn set_chosen(&self, chosen: bool) {
        self.chosen.store(chosen, Ordering::Relaxed);
    }

    /// Whether what the parameter asks to hear may be heard.
    #[must_use]
    pub fn is_chosen(&self) -> bool {
        self.chosen.load(Ordering::Relaxed)
    }

    /// Asks the audio thread to forget everything measured. What is drawn is cleared at once, so
    /// it works while no audio runs as well. GUI side only: it locks.
    pub fn request_reset(&self) {
        let mut collector = self.collector.lock();
        collector.drain(self);
        collector.clear_until_reset(self.epochs.request());
        self.links.reset();
    }

    /// Shows a pass that a session had saved, or takes a shown one away, unless something has been
    /// measured already. GUI side only: it locks.
    pub fn restore(&self, pass: Option<SavedPass>) {
        let mut collector = self.collector.lock();
        collector.drain(self);
        collector.restore(pass);
    }

    /// Goes on showing what was measured, as a pass that a session had saved: a stream of another format begins,
    /// of which nothing has played. GUI side only: it locks.
    pub fn keep_showing(&self) {
        let mut collector = self.collector.lock();
        collector.drain(self);
        collector.keep_showing(self.thresholds());
    }

    /// The pass to save with the session: what was measured, or else the pass that was restored,
    /// as it was. GUI side only: it locks.
    #[must_use]
    pub fn pass(&self) -> Option<SavedPass> {
        let mut collector = self.collector.lock();
        collector.drain(self);
        collector.pass(self.thresholds())
    }

    /// Keeps the pass on display, to compare later ones with. GUI side only: it locks.
    pub fn keep_pass(&self) {
        let mut collector = self.collector.lock();
        collector.drain(self);
        collector.change_kept(kept::keep);
    }

    /// Forgets the kept pass of this number. GUI side only: it locks.
    pub fn forget_kept(&self, number: u32) {
        let forget = |kept: &mut Vec<KeptPass>| {
            let before = kept.len();
            kept.retain(|pass| pass.number != number);
            kept.len() != before
        };
        self.collector.lock().change_kept(|kept, _| forget(kept));
    }

    /// Takes the kept passes of a session. GUI side only: it locks.
    pub fn restore_kept(&self, passes: Vec<KeptPass>) {
        self.collector.lock().change_kept(|kept, _| {
            *kept = kept::admit(passes);
            true
        });
    }

    /// The kept passes, to save with the session. GUI side only: it locks.
    #[must_use]
    pub fn kept(&self) -> Vec<KeptPass> {
        self.collector.lock().kept()
    }

    /// Writes the report of the pass on display, on a thread of its own; [`Display::exported`]
    /// tells what became of it. GUI side only: it locks.
    pub fn export_report(&self) {
        if let Some(report) = self.report() {
            self.exporter.write(report);
        }
    }

    /// The report of the pass on display, under the name of the track or the part.
    fn report(&self) -> Option<Report> {
        let mut report = self.pass()?.report();
        report.mix.file = self.links.name();
        if let Some(role) = self.links.part() {
            // No player turns up a part.
            report.listener.clear();
            if report.mix.file.is_empty() {
                role.code().clone_into(&mut report.mix.file);
            }
        }
        Some(report)
    }
}

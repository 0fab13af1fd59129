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
//! pusher has gone round the whole queue meanwhile. A pop copies under 1 kB; the shortest queue
//! takes 1.2 s of programme to go round.

mod collector;
#[allow(clippy::duplicate_mod, reason = "the model checker takes it in as well")]
mod epoch;
mod feed;
mod listening;
#[cfg(test)]
mod model;

/// Where [`epoch`] takes its atomics from.
mod sync {
    pub(super) use std::sync::atomic::{AtomicU64, Ordering};
}

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};

use atomic_float::AtomicF64;
use brunt_engine::{HistoryPoint, Readings, Thresholds};
use brunt_report::report::Report;
use crossbeam::queue::ArrayQueue;
use parking_lot::{MappedMutexGuard, Mutex, MutexGuard};

use crate::display::{BarLine, Display, Live, MAX_HITS, MAX_PLACES, PlacedHit};
use crate::export::Exporter;
use crate::kept::{self, KeptPass};
use crate::links::Entry;
use crate::reference::Shelf;
use crate::song::PlaceMark;
use crate::state::SavedPass;
use collector::Collector;
use epoch::Epochs;
pub(crate) use feed::Feed;
use listening::ListeningCells;

/// Readings' snapshots under way: one every 10 ms, so 1.28 s of programme. Only the newest
/// matters; the length is there so that the pusher never meets a popper (see the head).
const SNAPSHOTS: usize = 128;
/// Bar lines under way: an hour at 120 beats a minute in 4/4.
const BARS: usize = 1800;
/// History points under way: 20 minutes at 10 Hz.
const HISTORY: usize = 20 * 60 * 10;

/// An item and the epoch in which it was measured.
#[derive(Clone, Copy, Debug)]
struct Stamped<T> {
    epoch: u64,
    item: T,
}

/// Carries what is measured from the audio thread to the GUI side. See the module's head.
pub struct Bridge {
    hits: ArrayQueue<Stamped<PlacedHit>>,
    bars: ArrayQueue<Stamped<BarLine>>,
    places: ArrayQueue<Stamped<PlaceMark>>,
    history: ArrayQueue<Stamped<HistoryPoint>>,
    snapshots: ArrayQueue<Stamped<Readings>>,
    live: LiveCells,
    listening: ListeningCells,
    /// Whether what is heard was chosen in this session, and not before it was loaded.
    chosen: AtomicBool,
    reference: Shelf,
    /// What other instances see of this one, and what it hears of them.
    links: Arc<Entry>,
    /// Items of the running epoch lost to a full queue.
    dropped: AtomicU64,
    epochs: Epochs,
    sample_rate_hz: AtomicF64,
    channels: AtomicUsize,
    playing: AtomicBool,
    bypassed: AtomicBool,
    fault: AtomicBool,
    watch_db: AtomicF64,
    leaking_db: AtomicF64,
    collector: Mutex<Collector>,
    /// Writes reports, on a thread of its own.
    exporter: Exporter,
}

/// [`Live`], a cell a value; NaN stands for `None`.
struct LiveCells {
    momentary_lufs: AtomicF64,
    short_term_lufs: AtomicF64,
    true_peak_dbtp: AtomicF64,
    psr_db: AtomicF64,
}

impl LiveCells {
    /// Relaxed: each value stands for itself, and [`Live`] promises no more.
    fn store(&self, live: Live) {
        let put = |cell: &AtomicF64, value: Option<f64>| {
            cell.store(value.unwrap_or(f64::NAN), Ordering::Relaxed);
        };
        put(&self.momentary_lufs, live.momentary_lufs);
        put(&self.short_term_lufs, live.short_term_lufs);
        put(&self.true_peak_dbtp, live.true_peak_dbtp);
        put(&self.psr_db, live.psr_db);
    }

    /// Relaxed, as for [`LiveCells::store`].
    fn load(&self) -> Live {
        let get = |cell: &AtomicF64| {
            let value = cell.load(Ordering::Relaxed);
            (!value.is_nan()).then_some(value)
        };
        Live {
            momentary_lufs: get(&self.momentary_lufs),
            short_term_lufs: get(&self.short_term_lufs),
            true_peak_dbtp: get(&self.true_peak_dbtp),
            psr_db: get(&self.psr_db),
        }
    }
}

impl Default for Bridge {
    fn default() -> Self {
        let unknown = || AtomicF64::new(f64::NAN);
        Self {
            hits: ArrayQueue::new(MAX_HITS),
            bars: ArrayQueue::new(BARS),
            places: ArrayQueue::new(MAX_PLACES),
            history: ArrayQueue::new(HISTORY),
            snapshots: ArrayQueue::new(SNAPSHOTS),
            live: LiveCells {
                momentary_lufs: unknown(),
                short_term_lufs: unknown(),
                true_peak_dbtp: unknown(),
                psr_db: unknown(),
            },
            listening: ListeningCells::default(),
            chosen: AtomicBool::new(false),
            reference: Shelf::default(),
            links: Arc::default(),
            dropped: AtomicU64::new(0),
            epochs: Epochs::default(),
            sample_rate_hz: AtomicF64::new(0.0),
            channels: AtomicUsize::new(0),
            playing: AtomicBool::new(false),
            bypassed: AtomicBool::new(false),
            fault: AtomicBool::new(false),
            watch_db: AtomicF64::new(Thresholds::default().watch_db),
            leaking_db: AtomicF64::new(Thresholds::default().leaking_db),
            collector: Mutex::new(Collector::default()),
            exporter: Exporter::default(),
        }
    }
}

impl Bridge {
    /// The reference file. GUI side only: it locks.
    #[must_use]
    pub fn reference(&self) -> &Shelf {
        &self.reference
    }

    /// What other instances see of this one, and what it hears of them.
    #[must_use]
    pub fn links(&self) -> &Arc<Entry> {
        &self.links
    }

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
        let SavedPass { mut report, .. } = self.pass()?;
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

    /// The thresholds that the last measured block used. Relaxed: a pair torn between two blocks
    /// would only be a setting that is being changed.
    #[must_use]
    pub fn thresholds(&self) -> Thresholds {
        Thresholds {
            watch_db: self.watch_db.load(Ordering::Relaxed),
            leaking_db: self.leaking_db.load(Ordering::Relaxed),
        }
    }
}

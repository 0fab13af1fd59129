//! What both sides of the bridge hold on to: queues, atomics, and the neighbours of the instance.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};

use atomic_float::AtomicF64;
use brunt_engine::{HistoryPoint, HitBands, HitShape, HitWave, Readings, Thresholds};
use crossbeam::queue::ArrayQueue;

use super::epoch::Epochs;
use super::listening::ListeningCells;
use crate::display::{BarLine, Live, MAX_HITS, MAX_PLACES, PlacedHit};
use crate::export::Exporter;
use crate::links::Entry;
use crate::reference::Shelf;
use crate::song::PlaceMark;

/// Readings' snapshots under way: one every 10 ms, so 1.28 s of programme. Only the newest
/// matters; the length is there so that the pusher never meets a popper (see the head).
const SNAPSHOTS: usize = 128;
/// Shapes and spectra of hits under way: four minutes of a rock beat on both buses.
const SHAPES: usize = 1024;
/// Waveforms of hits under way: at one in 25 ms, 3 s.
const WAVES: usize = 128;
/// Bar lines under way: an hour at 120 beats a minute in 4/4.
const BARS: usize = 1800;
/// History points under way: 20 minutes at 10 Hz.
pub(super) const HISTORY: usize = 20 * 60 * 10;

/// An item and the epoch in which it was measured.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stamped<T> {
    pub(super) epoch: u64,
    pub(super) item: T,
}

/// Queues and atomics between the audio thread and the GUI side.
pub struct Wires {
    pub(super) hits: ArrayQueue<Stamped<PlacedHit>>,
    pub(super) bars: ArrayQueue<Stamped<BarLine>>,
    pub(super) places: ArrayQueue<Stamped<PlaceMark>>,
    pub(super) history: ArrayQueue<Stamped<HistoryPoint>>,
    pub(super) shapes: ArrayQueue<Stamped<HitShape>>,
    pub(super) waves: ArrayQueue<Stamped<HitWave>>,
    pub(super) hit_bands: ArrayQueue<Stamped<HitBands>>,
    pub(super) snapshots: ArrayQueue<Stamped<Readings>>,
    pub(super) live: LiveCells,
    pub(super) listening: ListeningCells,
    /// Whether what is heard was chosen in this session, and not before it was loaded.
    pub(super) chosen: AtomicBool,
    pub(super) reference: Shelf,
    /// What other instances see of this one, and what it hears of them.
    pub(super) links: Arc<Entry>,
    /// Items of the running epoch lost to a full queue.
    pub(super) dropped: AtomicU64,
    pub(super) epochs: Epochs,
    pub(super) sample_rate_hz: AtomicF64,
    pub(super) channels: AtomicUsize,
    pub(super) playing: AtomicBool,
    pub(super) bypassed: AtomicBool,
    pub(super) fault: AtomicBool,
    pub(super) watch_db: AtomicF64,
    pub(super) leaking_db: AtomicF64,
    /// Writes reports, on a thread of its own.
    pub(super) exporter: Exporter,
}

/// [`Live`], a cell a value; NaN stands for `None`.
pub(super) struct LiveCells {
    momentary_lufs: AtomicF64,
    short_term_lufs: AtomicF64,
    true_peak_dbtp: AtomicF64,
    psr_db: AtomicF64,
}

impl LiveCells {
    /// Relaxed: each value stands for itself, and [`Live`] promises no more.
    pub(super) fn store(&self, live: Live) {
        let put = |cell: &AtomicF64, value: Option<f64>| {
            cell.store(value.unwrap_or(f64::NAN), Ordering::Relaxed);
        };
        put(&self.momentary_lufs, live.momentary_lufs);
        put(&self.short_term_lufs, live.short_term_lufs);
        put(&self.true_peak_dbtp, live.true_peak_dbtp);
        put(&self.psr_db, live.psr_db);
    }

    /// Relaxed, as for [`LiveCells::store`].
    pub(super) fn load(&self) -> Live {
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

impl Default for Wires {
    fn default() -> Self {
        let unknown = || AtomicF64::new(f64::NAN);
        Self {
            hits: ArrayQueue::new(MAX_HITS),
            bars: ArrayQueue::new(BARS),
            places: ArrayQueue::new(MAX_PLACES),
            history: ArrayQueue::new(HISTORY),
            shapes: ArrayQueue::new(SHAPES),
            waves: ArrayQueue::new(WAVES),
            hit_bands: ArrayQueue::new(SHAPES),
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
            exporter: Exporter::default(),
        }
    }
}

impl Wires {
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

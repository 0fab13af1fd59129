//! The GUI's and the session's side: the path, and what became of it.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, Ordering};

use crossbeam::queue::ArrayQueue;
use parking_lot::Mutex;

use super::deck::Deck;
use super::load::{self, path_of};
use super::shared::{Progress, Shared, Shown};
use crate::contain::contained;
use crate::words::reference as say;
use crate::worker::{Stop, Worker};

/// Tracks under way to the audio thread, which takes one a block.
const COMING: usize = 4;
/// Tracks under way back.
const GOING: usize = 16;

/// The reference of one instance. GUI side only: it locks, allocates and starts threads.
#[derive(Debug)]
pub struct Shelf {
    shared: Arc<Shared>,
    /// Loads under way, called off ones too.
    loads: Mutex<Vec<Worker>>,
}

impl Default for Shelf {
    fn default() -> Self {
        Self {
            shared: Arc::new(Shared {
                shown: Mutex::new(Shown::default()),
                changes: AtomicU64::new(0),
                coming: ArrayQueue::new(COMING),
                going: ArrayQueue::new(GOING),
                loading: AtomicBool::new(false),
                rate_hz: AtomicU32::new(0),
            }),
            loads: Mutex::new(Vec::new()),
        }
    }
}

impl Shelf {
    /// The audio thread's side. One a shelf.
    #[must_use]
    pub fn deck(&self) -> Deck {
        Deck::new(Arc::clone(&self.shared))
    }

    /// Says what rate the host runs at; a reference is brought to it.
    pub fn set_rate(&self, rate_hz: f64) {
        let rate_hz = rate_hz.round() as u32;
        // Relaxed: a load that sees the old rate is called off and done again.
        if self.shared.rate_hz.swap(rate_hz, Ordering::Relaxed) != rate_hz {
            let path = self.shared.shown.lock().path.clone();
            if !path.is_empty() {
                self.load(&path);
            }
        }
    }

    /// Loads the file at `path`, or takes the reference away where that is empty.
    pub fn load(&self, path: &str) {
        let path = path.trim().to_owned();
        let mut loads = self.loads.lock();
        loads.iter().for_each(Worker::call_off);
        loads.retain(|load| !load.is_finished());
        let progress = if path.is_empty() { Progress::Empty } else { Progress::Loading };
        self.shared.show(Shown { path: path.clone(), progress });
        self.free_old();
        // Freed here, where it may be freed. What is sent later comes behind it.
        drop(self.shared.coming.force_push(None));
        if path.is_empty() {
            return;
        }
        let shared = Arc::clone(&self.shared);
        let work = move |stop: &Stop| run(&shared, &path, stop);
        match Worker::start("brunt-reference", work) {
            Ok(load) => loads.push(load),
            Err(error) => {
                let path = self.shared.shown.lock().path.clone();
                let reason = say::no_thread(&path, &error.to_string());
                self.shared.show(Shown { path, progress: Progress::Failed(reason) });
            }
        }
    }

    /// What is chosen, and what became of it.
    #[must_use]
    pub fn shown(&self) -> Shown {
        self.free_old();
        self.shared.shown.lock().clone()
    }

    /// A number that changes with what is shown.
    #[must_use]
    pub fn changes(&self) -> u64 {
        self.free_old();
        // Relaxed: what is shown lies behind a lock of its own.
        self.shared.changes.load(Ordering::Relaxed)
    }

    fn free_old(&self) {
        while self.shared.going.pop().is_some() {}
    }
}

impl Drop for Shelf {
    /// All are called off before the first is waited for.
    fn drop(&mut self) {
        self.loads.get_mut().iter().for_each(Worker::call_off);
    }
}

impl Shared {
    fn show(&self, shown: Shown) {
        let mut now = self.shown.lock();
        *now = shown;
        self.changed(&now);
    }

    /// Tells of what is shown now.
    fn changed(&self, shown: &Shown) {
        self.loading.store(shown.progress == Progress::Loading, Ordering::Relaxed);
        self.changes.fetch_add(1, Ordering::Relaxed);
    }
}

fn run(shared: &Shared, path: &str, stop: &Stop) {
    let rate_hz = shared.rate_hz.load(Ordering::Relaxed);
    let work = || {
        load::load(&path_of(path), stop).and_then(|loaded| {
            let Some(loaded) = loaded else { return Ok(None) };
            let readings = Box::new(loaded.readings);
            // Without a rate there is no host to play it to yet; `set_rate` loads it again.
            let track = if rate_hz > 0 { Some(loaded.track(path, rate_hz)?) } else { None };
            Ok(Some((readings, track)))
        })
    };
    // A load that just vanished would be shown as under way for ever.
    let outcome = contained(|| Err(say::fell_over(path)), work);
    let (progress, track) = match outcome {
        Ok(None) => return,
        Ok(Some((readings, track))) => (Progress::Ready(readings), track),
        Err(reason) => (Progress::Failed(reason), None),
    };
    // Whoever calls a load off does so before taking this lock, and sends what replaces the track
    // after leaving it: so an old track can never come behind a new one.
    let mut shown = shared.shown.lock();
    if stop.is_set() {
        return;
    }
    shown.progress = progress;
    if let Some(track) = track {
        // Freed here, where it may be freed.
        drop(shared.coming.force_push(Some(Arc::new(track))));
    }
    shared.changed(&shown);
}

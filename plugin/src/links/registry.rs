//! The instances of this process, and the thread that hears them.

use std::sync::Arc;
use std::thread;

use parking_lot::Mutex;

use super::entry::Entry;
use super::reader::Reader;
use crate::contain::survives;
use crate::worker::{Stop, Worker};

/// Everybody, behind a lock that no audio thread takes.
static EVERYBODY: Mutex<Everybody> =
    Mutex::new(Everybody { entries: Vec::new(), joined: 0, worker: None });

struct Everybody {
    entries: Vec<Arc<Entry>>,
    /// Instances that have ever joined.
    joined: u64,
    worker: Option<Worker>,
}

/// An instance is there to be heard and to hear. The first one starts the thread. Not for the
/// audio thread.
pub fn join(entry: &Arc<Entry>) {
    let mut all = EVERYBODY.lock();
    if all.entries.iter().any(|other| Arc::ptr_eq(other, entry)) {
        return;
    }
    all.joined += 1;
    entry.set_number(all.joined);
    all.entries.push(Arc::clone(entry));
    if all.worker.is_none() {
        // Without a thread the instances measure and do not hear each other.
        all.worker = Worker::start("brunt-links", run).ok();
    }
}

/// An instance goes. The last one waits for the thread to end: a host may unload the library right
/// after. Not for the audio thread.
pub fn leave(entry: &Arc<Entry>) {
    let worker = {
        let mut all = EVERYBODY.lock();
        all.entries.retain(|other| !Arc::ptr_eq(other, entry));
        if all.entries.is_empty() { all.worker.take() } else { None }
    };
    // Waited for here, where the list is free: the thread takes it for its next look.
    drop(worker);
}

fn run(stop: &Stop) {
    let mut reader = Reader::default();
    while !stop.is_set() {
        let entries = EVERYBODY.lock().entries.clone();
        // A panic in a reading must not end the host's program, nor the hearing of the others.
        let mut pace = PANIC_PAUSE;
        if !survives(|| pace = reader.look(&entries)) {
            reader = reader.renewed();
        }
        drop(entries);
        thread::park_timeout(pace);
    }
}

/// Time until the next look after a panic.
const PANIC_PAUSE: std::time::Duration = std::time::Duration::from_secs(5);

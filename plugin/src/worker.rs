//! A thread beside the host's, which ends with its owner.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};

/// Whether a worker has been called off. Relaxed: the flag carries no other data.
#[derive(Clone, Debug, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Whether the work is no longer wanted.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// Calls the work off.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// A running thread. Dropping it calls its work off and waits for its end: a host may unload the library
/// right after. Never for the audio thread.
#[derive(Debug)]
pub struct Worker {
    stop: Stop,
    /// Empty only while being dropped.
    thread: Option<JoinHandle<()>>,
}

impl Worker {
    /// Starts `work` on a thread of that name. The work looks at its [`Stop`] from time to time; a
    /// parked one is woken when it is called off.
    ///
    /// # Errors
    /// What the system says where it has no thread to give.
    pub fn start(name: &str, work: impl FnOnce(&Stop) + Send + 'static) -> io::Result<Self> {
        let stop = Stop::default();
        let own = stop.clone();
        let thread = thread::Builder::new().name(name.to_owned()).spawn(move || work(&own))?;
        Ok(Self { stop, thread: Some(thread) })
    }

    /// Calls the work off without waiting.
    pub fn call_off(&self) {
        self.stop.set();
    }

    /// Whether the thread has ended.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        self.thread.as_ref().is_none_or(JoinHandle::is_finished)
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.stop.set();
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            // A panic in there has been reported by its own thread; closing goes on.
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, Instant};

    use super::*;

    #[test]
    fn dropping_wakes_and_waits() {
        let ended = Arc::new(AtomicBool::new(false));
        let told = Arc::clone(&ended);
        let worker = Worker::start("test", move |stop| {
            while !stop.is_set() {
                thread::park_timeout(Duration::from_secs(60));
            }
            told.store(true, Ordering::SeqCst);
        });
        let start = Instant::now();
        drop(worker.expect("a thread"));
        assert!(ended.load(Ordering::SeqCst));
        assert!(start.elapsed() < Duration::from_secs(30), "{:?}", start.elapsed());
    }
}

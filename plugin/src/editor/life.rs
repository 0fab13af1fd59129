//! What has to end before the window is closed, and the wait for it.

use std::fs;
use std::path::PathBuf;
use std::thread;
use std::time::{Duration, Instant};

use parking_lot::Mutex;

use super::watch::Watch;

/// Longest wait for the window's thread: a graphics driver that hangs must not hang the host.
const PATIENCE: Duration = Duration::from_secs(2);

/// What has to end before the window is closed.
#[derive(Debug, Default)]
pub struct Life(Mutex<Running>);

#[derive(Debug, Default)]
struct Running {
    watch: Option<Watch>,
    /// The window's thread as the system lists it; `None` where it does not.
    thread: Option<PathBuf>,
}

/// The calling thread in the system's list of this program's threads.
fn this_thread() -> Option<PathBuf> {
    fs::canonicalize("/proc/thread-self").ok()
}

impl Life {
    /// The window has been built, on the calling thread.
    pub fn begin(&self, watch: Option<Watch>) {
        *self.0.lock() = Running { watch, thread: this_thread() };
    }

    /// The window has been told to close: waits until nothing of it runs.
    pub(super) fn end(&self) {
        let running = std::mem::take(&mut *self.0.lock());
        drop(running.watch);
        let Some(thread) = running.thread.filter(|thread| this_thread().as_ref() != Some(thread))
        else {
            return;
        };
        let start = Instant::now();
        while thread.exists() && start.elapsed() < PATIENCE {
            thread::sleep(Duration::from_millis(1));
        }
    }
}

#[cfg(test)]
mod tests {
    #[cfg(target_os = "linux")]
    use std::sync::Arc;

    use super::*;

    /// Linux lists a program's threads, by which one is waited for.
    #[cfg(target_os = "linux")]
    #[test]
    fn closing_waits_for_the_windows_thread() {
        let life = Arc::new(Life::default());
        let (built, is_built) = std::sync::mpsc::channel();
        let window = {
            let life = Arc::clone(&life);
            thread::spawn(move || {
                life.begin(None);
                built.send(()).expect("the test listens");
                thread::sleep(Duration::from_millis(80));
            })
        };
        is_built.recv().expect("the thread has begun");
        let start = Instant::now();
        life.end();
        assert!(start.elapsed() > Duration::from_millis(40), "{:?}", start.elapsed());
        assert!(window.is_finished());
        life.end();
    }

    #[test]
    fn a_window_on_the_hosts_own_thread_is_not_waited_for() {
        let life = Life::default();
        life.begin(None);
        let start = Instant::now();
        life.end();
        assert!(start.elapsed() < Duration::from_millis(500), "{:?}", start.elapsed());
    }
}

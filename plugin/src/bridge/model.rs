//! The epochs under the model checker `loom`: every order in which the audio thread and the GUI
//! side can run, and every value that a relaxed load may give. The queues are crossbeam's, which
//! checks them itself; a locked list stands for one here.

mod sync {
    pub(super) use loom::sync::atomic::{AtomicU64, Ordering};
}
// The code that is shipped, on the model checker's atomics.
#[allow(clippy::duplicate_mod, reason = "the model checker runs what is shipped")]
#[path = "epoch.rs"]
mod epoch;

use std::collections::VecDeque;

use loom::sync::atomic::{AtomicU64, Ordering};
use loom::sync::{Arc, Mutex};
use loom::thread;

use epoch::Epochs;

#[derive(Default)]
struct Shared {
    epochs: Epochs,
    /// Epoch and number of each item.
    queue: Mutex<VecDeque<(u64, u64)>>,
    /// The newest number; 0 where there is none.
    live: AtomicU64,
}

/// The audio thread's state, as in `Measure`.
#[derive(Default)]
struct Audio {
    epoch: u64,
    seen: u64,
    count: u64,
    /// Number of the first item after the last reset.
    first: u64,
    resets: u64,
}

impl Audio {
    fn block(&mut self, shared: &Shared) {
        let requests = shared.epochs.requests();
        if requests != std::mem::replace(&mut self.seen, requests) {
            shared.live.store(0, Ordering::Relaxed);
            self.epoch = shared.epochs.begin();
            self.first = self.count + 1;
            self.resets += 1;
        }
        self.count += 1;
        shared.queue.lock().expect("no panic").push_back((self.epoch, self.count));
        shared.live.store(self.count, Ordering::Relaxed);
    }
}

/// The GUI side's state, as in `Collector`.
#[derive(Default)]
struct Screen {
    epoch: u64,
    shown: Vec<u64>,
}

impl Screen {
    fn enter(&mut self, epoch: u64) {
        if epoch > self.epoch {
            self.epoch = epoch;
            self.shown.clear();
        }
    }

    fn drain(&mut self, shared: &Shared) {
        self.enter(shared.epochs.running());
        let length = shared.queue.lock().expect("no panic").len();
        for _ in 0..length {
            let item = shared.queue.lock().expect("no panic").pop_front();
            let Some((epoch, number)) = item else { break };
            self.enter(epoch);
            if epoch == self.epoch {
                self.shown.push(number);
            }
        }
    }
}

#[test]
fn a_reset_voids_what_was_before_it_and_nothing_else() {
    loom::model(|| {
        let shared = Arc::new(Shared::default());
        let playing = {
            let shared = Arc::clone(&shared);
            thread::spawn(move || {
                let mut audio = Audio::default();
                audio.block(&shared);
                audio.block(&shared);
                audio
            })
        };
        let mut screen = Screen::default();
        screen.drain(&shared);
        screen.enter(shared.epochs.request());
        assert!(screen.shown.is_empty(), "cleared at once");
        let mut audio = playing.join().expect("ends");
        // By the next block the request is met, and what comes then is shown.
        audio.block(&shared);
        screen.drain(&shared);
        assert_eq!(audio.resets, 1, "met once");
        let wanted: Vec<u64> = (audio.first..=audio.count).collect();
        assert_eq!(screen.shown, wanted);
    });
}

#[test]
fn two_requests_leave_nothing_stuck() {
    loom::model(|| {
        let shared = Arc::new(Shared::default());
        let playing = {
            let shared = Arc::clone(&shared);
            thread::spawn(move || {
                let mut audio = Audio::default();
                audio.block(&shared);
                audio
            })
        };
        let mut screen = Screen::default();
        screen.enter(shared.epochs.request());
        screen.enter(shared.epochs.request());
        let mut audio = playing.join().expect("ends");
        audio.block(&shared);
        screen.drain(&shared);
        assert_eq!(screen.shown.last(), Some(&audio.count), "the newest item is shown");
    });
}

#[test]
fn no_live_value_outlives_its_epoch() {
    loom::model(|| {
        let shared = Arc::new(Shared::default());
        let playing = {
            let shared = Arc::clone(&shared);
            thread::spawn(move || {
                let mut audio = Audio::default();
                audio.block(&shared);
                shared.epochs.request();
                audio.block(&shared);
            })
        };
        let epoch = shared.epochs.running();
        let live = shared.live.load(Ordering::Relaxed);
        assert!(epoch == 0 || live != 1, "the value of before the reset");
        playing.join().expect("ends");
    });
}

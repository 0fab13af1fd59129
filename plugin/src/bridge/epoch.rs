//! Resets, and what they void. Each reset starts a new *epoch*; everything pushed carries the one
//! that it belongs to.
//!
//! `super::sync` is the standard library's; the model beside this file puts the model checker's in
//! its place, and tries every order in which both sides can run.

use super::sync::{AtomicU64, Ordering};

/// The running epoch, and the requests for another one.
#[derive(Debug, Default)]
pub(super) struct Epochs {
    /// Written by the audio thread, and by `activate` while it does not run.
    running: AtomicU64,
    /// How often the GUI side has asked for a reset.
    requests: AtomicU64,
}

impl Epochs {
    /// The GUI side asks for a reset. Gives the epoch from which on things may be shown: the audio
    /// thread will enter it when it sees the request, or a later one.
    pub(super) fn request(&self) -> u64 {
        // Acquire: pairs with the Release in `begin`, so that the request comes after the epoch
        // that was seen running, and cannot have been met by it already.
        let next = self.running.load(Ordering::Acquire) + 1;
        // Relaxed: the counter is the whole message. The audio thread reads nothing else that was
        // written here.
        self.requests.fetch_add(1, Ordering::Relaxed);
        next
    }

    /// How often a reset was asked for. The audio thread compares it with what it saw last; it has
    /// to use one look both to decide and to remember, or a request between two looks is lost.
    pub(super) fn requests(&self) -> u64 {
        self.requests.load(Ordering::Relaxed)
    }

    /// Starts a new epoch and gives its number: everything pushed under an older one is void.
    /// Called by the audio thread, or by `activate` while the audio thread does not run.
    pub(super) fn begin(&self) -> u64 {
        // Only one thread at a time writes, so load and store need not be one operation.
        let epoch = self.running.load(Ordering::Relaxed) + 1;
        // Release: a reader that sees the new epoch (Acquire, in `running`) also sees what was
        // emptied before it.
        self.running.store(epoch, Ordering::Release);
        epoch
    }

    /// The running epoch.
    pub(super) fn running(&self) -> u64 {
        self.running.load(Ordering::Acquire)
    }
}

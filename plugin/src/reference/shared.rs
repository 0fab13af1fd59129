//! What is shown of a reference, and what the threads share of it.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64};

use brunt_engine::Readings;
use crossbeam::queue::ArrayQueue;
use parking_lot::Mutex;

use super::track::Track;

/// How far a load has come.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Progress {
    /// No file is chosen.
    #[default]
    Empty,
    /// Being read.
    Loading,
    /// Measured, and handed to the audio thread where the host's rate is known.
    Ready(Box<Readings>),
    /// What is wrong: one line that names the file, the value and what was expected.
    Failed(String),
}

/// The reference as it is shown and saved.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shown {
    /// The path as it was given; empty without a reference. It is kept while the file is gone.
    pub path: String,
    /// What became of it.
    pub progress: Progress,
}

/// What both sides and the loading thread share.
#[derive(Debug)]
pub(super) struct Shared {
    /// GUI side and loading thread only; the audio thread never touches it.
    pub(super) shown: Mutex<Shown>,
    /// Counts the changes of `shown`.
    pub(super) changes: AtomicU64,
    /// Tracks on their way to the audio thread; `None` takes the old one away.
    pub(super) coming: ArrayQueue<Option<Arc<Track>>>,
    /// Tracks on their way back, to be freed.
    pub(super) going: ArrayQueue<Arc<Track>>,
    /// Whether a file is being read, for the audio thread.
    pub(super) loading: AtomicBool,
    /// The host's rate, Hz; 0 until it is known.
    pub(super) rate_hz: AtomicU32,
}

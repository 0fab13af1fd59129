//! A file as reference: loaded beside the audio, played in place of the side-chain.
//!
//! - [`Shelf`] is the GUI's and the session's side: the path, and what became of it. Loading runs
//!   on a thread of its own: decode, measure with the engine, bring to the host's rate.
//! - [`Deck`] is the audio thread's side: it takes a track from a bounded queue and hands the old
//!   one back through another, so that nothing is ever freed on the audio thread.
//! - The track plays while the host plays, from its start, over and over; its ends are faded. It
//!   does not follow the host's position: another song has another form.

mod deck;
mod load;
mod shelf;

pub use deck::Deck;
pub use load::path_of;
pub use shelf::{Progress, Shelf, Shown};

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, AtomicU64};

use crossbeam::queue::ArrayQueue;
use parking_lot::Mutex;

/// Longest file that is taken, s. Ours: longer than any song to compare with; two channels of it
/// at 48 kHz take 230 MB.
pub const LONGEST_S: f64 = 600.0;
/// Length of the fades at a track's ends, ms. Ours: long enough not to click where it starts over.
const FADE_MS: f64 = 5.0;

/// A reference at the host's rate, ready to be played.
#[derive(Debug)]
pub struct Track {
    /// Both channels, of one length; a mono file is on both.
    channels: [Vec<f32>; 2],
}

/// What both sides and the loading thread share.
#[derive(Debug)]
struct Shared {
    /// GUI side and loading thread only; the audio thread never touches it.
    shown: Mutex<Shown>,
    /// Counts the changes of `shown`.
    changes: AtomicU64,
    /// Tracks on their way to the audio thread; `None` takes the old one away.
    coming: ArrayQueue<Option<Arc<Track>>>,
    /// Tracks on their way back, to be freed.
    going: ArrayQueue<Arc<Track>>,
    /// The host's rate, Hz; 0 until it is known.
    rate_hz: AtomicU32,
}

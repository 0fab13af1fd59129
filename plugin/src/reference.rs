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
mod shared;
mod shelf;
mod track;

pub use deck::Deck;
pub use load::path_of;
pub use shared::{Progress, Shown};
pub use shelf::Shelf;
pub use track::{LONGEST_S, Track};

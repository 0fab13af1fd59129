//! Where the truth of Brunt's tests comes from: songs, sessions and drum tracks that are rendered here
//! from open sound libraries, so that every hit, every limiter's gain and every part's timing is known.
//!
//! - [`corpus`] renders songs of drums and instruments, and limits, clips and equalises them.
//! - [`session`] renders sessions of parts with programmed timing.
//! - [`second`] renders songs of another kind, which have nothing in common with those.
//! - [`costs`] puts one cause at a time into both, and reads its cost against what was really lost.
//! - [`take`] is such a song with its stems.
//! - [`arrange`] renders what the costs of clutter, timing and drive are held against.
//!
//! The programs beside it write material out, score the meter on it, and make the rows that `fit/`
//! fits the engine's weights to. Nothing of a product depends on this crate.

pub mod arrange;
pub mod corpus;
pub mod costs;
pub mod second;
pub mod session;
pub mod take;

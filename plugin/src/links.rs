//! Linked instances: the parts of a mix, heard where they are played.
//!
//! An instance on a part's bus measures that part alone and tells what it hears, millisecond by
//! millisecond, with its place on the host's timeline. The instance on the mix bus lays the parts
//! side by side and reads timing, clutter and drive from them, with the engine's own
//! [`Session`](brunt_engine::parts::Session): the numbers that `brunt check --part` gives.
//!
//! - The audio thread of a part writes to a bounded ring of its own ([`rtrb`], wait-free, one
//!   writer and one reader) and to atomics. It never sees another instance. A full ring drops what
//!   comes next, and the place is stamped anew once there is room.
//! - Everything else runs on one thread for the whole process, [`registry`], which ends with
//!   the last instance: it drains the rings into a [`Timeline`] a part, in which a later pass
//!   replaces an earlier one place by place, and reads the [`Linked`] of each mix.
//! - Only instances in one process, of one plug-in format, can hear each other: nothing is sent
//!   through files, sockets or shared memory.

mod bars;
mod common;
mod ear;
mod entry;
mod hits;
mod levels;
mod linked;
mod publisher;
mod reader;
mod registry;
mod sides;
mod timeline;

pub use entry::Entry;
pub(crate) use hits::HitTeller;
pub(crate) use levels::LevelTeller;
pub use linked::{Hearing, Linked, LinkedPart, LinkedReading, PartStatus, Places, Said};
pub use publisher::Publisher;
pub use registry::{join, leave};
pub use timeline::{Item, Timeline};

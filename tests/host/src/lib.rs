//! A plug-in host without a user: loads the built CLAP as a real host would, in the same process.
//!
//! - [`bundle`] finds the built plug-in. A missing one is an error that names the command which
//!   builds it; `BRUNT_BUNDLE` points to another.
//! - [`Instance`] is the main thread's side of one plug-in: ports, parameters, state.
//! - [`Audio`] is the audio thread's side: it can be sent to a thread of its own.
//! - [`render`] plays a whole song in blocks; [`saved`] reads the readings out of a saved state.
//! - [`mod@turn`] opens and closes instances; `held` counts threads, files and memory of the program, where
//!   the system lists them.
//! - [`display`] starts a virtual X display, and [`window`] embeds the editor and reads its pixels.
//!
//! Tests, benches and the demo share it; it knows none of them.

mod audio;
pub mod bundle;
pub mod display;
mod handlers;
#[cfg(target_os = "linux")]
pub mod held;
mod instance;
mod params;
pub mod render;
pub mod saved;
pub mod transport;
pub mod turn;
pub mod window;

pub use audio::{Audio, Block, Side, Status};
pub use instance::{Instance, Layout, Port};
pub use params::Parameter;
pub use render::{Blocks, Song};
pub use saved::SavedState;

use std::fmt;

/// Why the host could not go on: one sentence for the user.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Error(pub String);

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Error {}

/// The host's results.
pub type Result<T> = std::result::Result<T, Error>;

/// An error with the cause behind it.
fn because(what: &str, cause: impl fmt::Display) -> Error {
    Error(format!("{what}: {cause}"))
}

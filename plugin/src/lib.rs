//! Brunt, a punch meter: the plug-in, for CLAP and VST3 hosts.
//!
//! - The output is the input, bit for bit, with no delay.
//! - On the audio thread nothing here allocates, locks or makes a system call.
//! - No panic reaches the host: audio passes on unchanged, and editor and report say so.
//! - [`measure`] is what happens in a block; [`bridge`] carries its results to the GUI side;
//!   [`display`] is all that the editor knows; [`state`] is what a session keeps.

pub mod audition;
pub mod bridge;
mod contain;
pub mod controls;
pub mod display;
pub mod editor;
pub mod export;
pub mod kept;
pub mod links;
pub mod measure;
pub mod model;
pub mod params;
mod plugin;
pub mod reference;
pub mod song;
pub mod state;
pub mod words;
mod worker;

pub use params::{BruntParams, Role, SideRole};
pub use plugin::{Brunt, clap_entry};
pub use state::Theme;

// Its entry wraps the CLAP's.
#[cfg(all(target_os = "macos", feature = "audio-unit"))]
clap_wrapper::export_auv2!();

//! The parts of a mix, measured one by one: what three of the five leaks need.
//!
//! | what | where |
//! |---|---|
//! | what a part plays | [`PartRole`] |
//! | a stream of a part into cells of a millisecond and onsets, on the audio thread | [`PartMeter`] |
//! | a whole part in memory, for analysis off the audio thread | [`PartTrack`] |
//! | what a part sounds like, where that is clear | [`RoleSuggestion`] |
//! | several parts as one sum of power, and the hit contrast in it | [`sum`] |
//! | the parts of a song and what is read from them | [`Session`] |
//! | how loud the parts lie in the mix, from powers alone | [`levels`] |
//! | hits at the drums' strokes that the mix drowns | [`buried`] |
//! | a part with its strokes elsewhere | [`retime`] |
//! | the mix with a part changed, from audio | [`remix`] |
//!
//! [`PartMeter`] keeps the promise of the crate's head: nothing after its `new` allocates. All
//! that works on a [`PartTrack`] allocates and belongs off the audio thread.

mod bank;
pub mod buried;
pub mod clutter;
pub mod cost;
pub mod drive;
mod evidence;
mod gain;
mod judge;
mod kit;
pub mod levels;
mod meter;
mod picker;
mod places;
pub mod remix;
pub mod retime;
mod role;
mod session;
mod suggest;
pub mod sum;
pub mod timing;
mod track;
mod weights;

pub use evidence::{ONSET_EVIDENCE, OnsetEvidence};
pub use gain::HitGain;
pub use kit::{Drum, drums};
pub use meter::{PartCell, PartMeter, PartSink};
pub use picker::PartOnset;
pub use places::{PLACE_S, PlaceCosts, PlaceSums};
pub use role::PartRole;
pub use session::{PartCosts, PartRow, PartsReading, Session};
pub use suggest::{ROLE_EVIDENCE, RoleEvidence, RoleSuggestion, role_evidence};
pub use track::{Alikeness, PartTrack};

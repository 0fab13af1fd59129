//! Programmed sessions: stems of a band with known truth about every note.
//!
//! A [`Plan`] is data: tempo, chords, and layers with a pattern, a sound and a feel each. A render
//! gives one stem a layer and the time of every note to the sample, strays included. Each layer
//! has a seed of its own, so that a change of one layer leaves the others as they were: a cause
//! can be added to a clean session and taken away again.
//!
//! Drums are single hits of Debian's sound packages and bass, guitars and voices notes of an open
//! sound font, as in [`crate::corpus`]; plucked strings are also synthesised here, and guitars go
//! through an amplifier of our own at a gain that the plan sets.
//!
//! | what | where |
//! |---|---|
//! | the recipe | [`plan`] |
//! | plucked strings | [`strings`] |
//! | from plan to notes with their times | [`play`] |
//! | from notes to stems | [`render`] |
//! | sessions drawn at random, for fitting | [`drawn`] |
//! | stems of every role, drawn | [`roles`] |
//! | the written sessions: one set for tuning, another for the tests | [`tuning`], [`testing`] |

pub mod drawn;
pub mod plan;
pub mod play;
pub mod render;
pub mod roles;
pub mod strings;
pub mod testing;
pub mod tuning;

pub use plan::{Feel, Layer, Plan, Sound};
pub use render::{Rendered, Stem, render};

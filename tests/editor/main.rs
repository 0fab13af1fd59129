//! The screen without a window: controls, names, pictures, and room for every text.
//!
//! | file | checks |
//! |---|---|
//! | `controls.rs` | every control by label and by keyboard, acting on fields of our own |
//! | `parts.rs` | the parts view with linked instances: names, roles, states, pictures, room |
//! | `names.rs` | what assistive technology is told of what is only painted |
//! | `room.rs` | no text over another or outside the window, at all sizes and scales |
//! | `pictures.rs` | pictures of typical states: not blank, and what must be seen is there |
//! | `vision.rs` | states, texts and signs under simulated colour blindness (Machado et al. 2009) |
//! | `documents.rs` | the pictures in `docs/pictures` are what the window shows today |
//! | `time.rs` | own time of a frame, and that no frame is asked for while nothing changes |
//!
//! Other pictures are written under the target directory to be looked at; none of those is compared
//! with a stored one.

mod controls;
mod documents;
mod fake;
mod names;
mod parts;
mod pictures;
mod render;
mod room;
mod sample;
mod stage;
mod time;
mod views;
mod vision;

//! Plain data that the plug-in's layers hand to one another. Nothing here does anything, and nothing
//! here knows of a layer above: `audition`, `links`, `reference` and `bridge` fill it, `display` gathers
//! it, `state` saves it, and `editor` draws it.

pub mod heard;
pub mod kept;
pub mod place;
pub mod roles;
pub mod window;

//! Brunt tests.

pub mod arrange;
pub mod corpus;
pub mod host;
pub mod session;
pub mod song;

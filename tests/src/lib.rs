//! Brunt tests.

pub mod corpus;
pub mod song;

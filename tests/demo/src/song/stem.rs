//! A part on the desk.

use brunt_engine::parts::PartRole;

use super::stereo::Stereo;

/// One part of the session, at its level in the mix.
#[derive(Clone, Debug)]
pub struct Stem {
    /// What it plays.
    pub role: PartRole,
    /// Its name on the desk.
    pub name: &'static str,
    /// Its sound, with its level and place in the mix.
    pub audio: Stereo,
}

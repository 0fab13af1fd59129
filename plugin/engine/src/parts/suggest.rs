//! What a part sounds like: a role to suggest, from its cells and onsets alone.
//!
//! The [evidence](RoleEvidence) is a few dozen numbers that no gain moves: where the power lies,
//! how levels and tone change, how strokes fall, and whether there is a pitch. The odds of drums,
//! bass, guitars and everything else follow from it and from its squares and products by a
//! regression whose weights `tests/lab/fit/roles.py` makes. Nothing is said where the odds are under
//! [`LEAST_LOG_ODDS`](crate::thresholds::role::LEAST_LOG_ODDS). Voices and all other instruments are
//! known only as not being one of the three.

mod evidence;
mod odds;
mod strokes;
mod weights;

pub use evidence::{ROLE_EVIDENCE, RoleEvidence, role_evidence};

use super::{PartRole, PartTrack};
use crate::bands::BANDS;

/// A role that a part's sound suggests, and what speaks for it. Gain moves its odds only as far as
/// the onset picker's floor of -120 dB in digital silence has a say in how sure onsets are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoleSuggestion {
    /// Drums, bass or guitars.
    pub role: PartRole,
    /// Natural logarithm of the odds that it is that and nothing else.
    pub log_odds: f64,
    /// As in [`RoleEvidence::shares`].
    pub shares: [f64; BANDS],
    /// As in [`RoleEvidence::fall_db`].
    pub fall_db: Option<f64>,
    /// As in [`RoleEvidence::change_db`].
    pub change_db: f64,
}

impl RoleSuggestion {
    /// What the part sounds like; `None` where it plays for too short a time or where that is not
    /// clear. Allocates; not for the audio thread.
    #[must_use]
    pub fn of(track: &PartTrack) -> Option<Self> {
        let evidence = role_evidence(track)?;
        let (role, log_odds) = odds::likeliest(&evidence.numbers)?;
        Some(Self {
            role,
            log_odds,
            shares: evidence.shares,
            fall_db: evidence.fall_db,
            change_db: evidence.change_db,
        })
    }
}

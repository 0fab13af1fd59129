//! What an instance sits on, and what its side-chain carries.

use brunt_engine::parts::PartRole;
use nice_plug::prelude::*;

/// What the side-chain carries.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Enum)]
pub enum SideRole {
    /// Nothing that Brunt should look at.
    #[default]
    #[id = "off"]
    #[name = "Off"]
    Off,
    /// The mix ahead of the limiter.
    #[id = "before"]
    #[name = "Before limiter"]
    Before,
    /// A reference track.
    #[id = "reference"]
    #[name = "Reference"]
    Reference,
    /// Another part of the mix.
    #[id = "partner"]
    #[name = "Partner"]
    Partner,
}

impl From<SideRole> for brunt_engine::SideRole {
    fn from(role: SideRole) -> Self {
        match role {
            SideRole::Off => Self::Off,
            SideRole::Before => Self::Before,
            SideRole::Reference => Self::Reference,
            SideRole::Partner => Self::Partner,
        }
    }
}

/// What this instance sits on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Enum)]
pub enum Role {
    /// The mix bus: it measures the mix, and hears the parts.
    #[default]
    #[id = "mix"]
    #[name = "Mix bus"]
    Mix,
    /// A part: drums and percussion.
    #[id = "drums"]
    #[name = "Drums"]
    Drums,
    /// A part: bass.
    #[id = "bass"]
    #[name = "Bass"]
    Bass,
    /// A part: guitars.
    #[id = "guitars"]
    #[name = "Guitars"]
    Guitars,
    /// A part: voices.
    #[id = "vocals"]
    #[name = "Vocals"]
    Vocals,
    /// A part: anything else.
    #[id = "other"]
    #[name = "Other"]
    Other,
}

impl Role {
    /// All roles, in the order in which they are shown.
    pub const ALL: [Self; 6] =
        [Self::Mix, Self::Drums, Self::Bass, Self::Guitars, Self::Vocals, Self::Other];

    /// What the part plays; `None` on the mix bus.
    #[must_use]
    pub const fn part(self) -> Option<PartRole> {
        match self {
            Self::Mix => None,
            Self::Drums => Some(PartRole::Drums),
            Self::Bass => Some(PartRole::Bass),
            Self::Guitars => Some(PartRole::Guitars),
            Self::Vocals => Some(PartRole::Vocals),
            Self::Other => Some(PartRole::Other),
        }
    }

    /// Whether hits, loudness and ceiling are measured here with the whole meter: on the mix bus, and
    /// of the drums, since what a limiter takes from these alone hardly shows in a mix.
    #[must_use]
    pub const fn is_metered(self) -> bool {
        matches!(self, Self::Mix | Self::Drums)
    }
}

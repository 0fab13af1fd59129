//! What a part of a mix plays.

/// The role of a part. The user sets it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PartRole {
    /// Drums and percussion.
    Drums,
    /// Bass.
    Bass,
    /// Guitars, clean or distorted.
    Guitars,
    /// Voices.
    Vocals,
    /// Anything else.
    #[default]
    Other,
}

impl PartRole {
    /// All roles, in the order in which they are shown.
    pub const ALL: [Self; 5] = [Self::Drums, Self::Bass, Self::Guitars, Self::Vocals, Self::Other];

    /// The role's name on the command line and in the JSON.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Drums => "drums",
            Self::Bass => "bass",
            Self::Guitars => "guitars",
            Self::Vocals => "vocals",
            Self::Other => "other",
        }
    }

    /// The role of that [`code`](Self::code); `None` where there is none.
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.code() == code)
    }
}

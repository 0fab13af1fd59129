//! What a part of a mix plays.

/// The role of a part. The user sets it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
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

    /// The role that a part's name speaks of, as tracks and files are named: "Kick in", "GTR L",
    /// "lead_vox.wav". `None` where it speaks of none, or of two.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let name = name.to_lowercase();
        let words = name.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
        let mut roles = words.filter_map(|word| {
            let (_, role) = NAMES.iter().find(|(names, _)| names.contains(&word))?;
            Some(*role)
        });
        let first = roles.next()?;
        // "Kick and snare" are drums twice; "bass drum" is no bass.
        let rest: Vec<Self> = roles.filter(|role| *role != first).collect();
        match (first, rest.as_slice()) {
            (role, []) => Some(role),
            (Self::Bass, [Self::Drums]) if name.contains("bass drum") => Some(Self::Drums),
            (Self::Bass, [Self::Guitars]) if name.contains("bass g") => Some(Self::Bass),
            _ => None,
        }
    }
}

/// Words by which tracks are named (common practice, no source).
const NAMES: [(&[&str], PartRole); 5] = [
    (
        &[
            "drum",
            "drums",
            "kit",
            "kick",
            "kicks",
            "bd",
            "snare",
            "snares",
            "sn",
            "sd",
            "tom",
            "toms",
            "hat",
            "hats",
            "hihat",
            "hh",
            "ride",
            "crash",
            "cymbal",
            "cymbals",
            "overhead",
            "overheads",
            "oh",
            "ohs",
            "perc",
            "percussion",
            "shaker",
            "tambourine",
            "conga",
            "congas",
            "bongo",
            "bongos",
            "cajon",
            "clap",
            "claps",
        ],
        PartRole::Drums,
    ),
    (&["bass", "bs", "sub"], PartRole::Bass),
    (
        &["guitar", "guitars", "gtr", "gtrs", "git", "guit", "egtr", "agtr", "acgtr", "elgtr"],
        PartRole::Guitars,
    ),
    (
        &[
            "vocal", "vocals", "vox", "vx", "voc", "vocs", "voice", "voices", "singer", "choir",
            "bv", "bvs", "bgv", "bgvs",
        ],
        PartRole::Vocals,
    ),
    (
        &[
            "keys", "piano", "organ", "synth", "synths", "pad", "pads", "strings", "violin",
            "cello", "brass", "horn", "horns", "trumpet", "sax", "flute", "rhodes", "fx",
        ],
        PartRole::Other,
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_speaks_of_a_role() {
        use PartRole::{Bass, Drums, Guitars, Other, Vocals};
        for (name, role) in [
            ("Drums", Some(Drums)),
            ("Kick in", Some(Drums)),
            ("kick_and_snare-02.wav", Some(Drums)),
            ("OH L", Some(Drums)),
            ("Bass DI", Some(Bass)),
            ("bass drum", Some(Drums)),
            ("Bass Guitar", Some(Bass)),
            ("Gtr L", Some(Guitars)),
            ("GTR2", Some(Guitars)),
            ("lead_vox.wav", Some(Vocals)),
            ("Synth pad", Some(Other)),
            // Two roles, and none.
            ("Synth bass", None),
            ("Drums and bass", None),
            ("Track 3", None),
            ("Bassoon", None),
            ("", None),
        ] {
            assert_eq!(PartRole::from_name(name), role, "{name}");
        }
    }
}

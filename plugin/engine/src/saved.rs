//! Numbers of plain data in text that knows finite ones alone, such as JSON: minus infinity, the level
//! of silence, is a word, and what is no number is null. They read back as they were.

/// One number.
pub(crate) mod number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::Written;

    pub(crate) fn serialize<S: Serializer>(x: &f64, s: S) -> Result<S::Ok, S::Error> {
        Written::from(*x).serialize(s)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
        Written::deserialize(d).map(f64::from)
    }
}

/// Three of them.
pub(crate) mod numbers {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::Written;

    pub(crate) fn serialize<S: Serializer>(x: &[f64; 3], s: S) -> Result<S::Ok, S::Error> {
        x.map(Written::from).serialize(s)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 3], D::Error> {
        <[Written; 3]>::deserialize(d).map(|written| written.map(f64::from))
    }
}

#[derive(serde::Serialize, serde::Deserialize)]
#[serde(untagged)]
enum Written {
    Finite(f64),
    Infinite(Silence),
    NoNumber(()),
}

#[derive(serde::Serialize, serde::Deserialize)]
enum Silence {
    #[serde(rename = "-inf")]
    Level,
}

impl From<f64> for Written {
    fn from(x: f64) -> Self {
        if x.is_finite() {
            Self::Finite(x)
        } else if x == f64::NEG_INFINITY {
            Self::Infinite(Silence::Level)
        } else {
            Self::NoNumber(())
        }
    }
}

impl From<Written> for f64 {
    fn from(written: Written) -> Self {
        match written {
            Written::Finite(x) => x,
            Written::Infinite(Silence::Level) => Self::NEG_INFINITY,
            Written::NoNumber(()) => Self::NAN,
        }
    }
}

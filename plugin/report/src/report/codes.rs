//! The engine's codes as words in the JSON: the same words as on the screen.

/// [`State`](brunt_engine::State) as its word.
pub(super) mod state {
    use brunt_engine::State;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    use crate::words::state_word;

    const ALL: [State; 4] = [State::Unknown, State::Clear, State::Watch, State::Leaking];

    pub(in crate::report) fn serialize<S: Serializer>(x: &State, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(state_word(*x))
    }

    pub(in crate::report) fn deserialize<'de, D: Deserializer<'de>>(
        d: D,
    ) -> Result<State, D::Error> {
        let word = String::deserialize(d)?;
        ALL.into_iter().find(|&x| state_word(x) == word).ok_or_else(|| {
            let words = ALL.map(state_word).join(", ");
            D::Error::custom(format!("state \"{word}\": expected one of {words}"))
        })
    }
}

/// [`CeilingKind`](brunt_engine::CeilingKind) as its word, or null.
pub(super) mod kind {
    use brunt_engine::CeilingKind;
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    use crate::words::kind_word;

    const ALL: [CeilingKind; 3] = [CeilingKind::None, CeilingKind::Limiter, CeilingKind::Clipper];

    pub(in crate::report) fn serialize<S: Serializer>(
        x: &Option<CeilingKind>,
        s: S,
    ) -> Result<S::Ok, S::Error> {
        x.map(kind_word).serialize(s)
    }

    pub(in crate::report) fn deserialize<'de, D: Deserializer<'de>>(
        d: D,
    ) -> Result<Option<CeilingKind>, D::Error> {
        let Some(word) = Option::<String>::deserialize(d)? else { return Ok(None) };
        ALL.into_iter().find(|&x| kind_word(x) == word).map(Some).ok_or_else(|| {
            let words = ALL.map(kind_word).join(", ");
            D::Error::custom(format!("kind \"{word}\": expected one of {words} or null"))
        })
    }
}

/// [`Shape`](brunt_engine::Shape) as its word, or null.
pub(super) mod shape {
    use brunt_engine::Shape;
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    use crate::words::shape_word;

    pub(in crate::report) fn serialize<S: Serializer>(
        x: &Option<Shape>,
        s: S,
    ) -> Result<S::Ok, S::Error> {
        x.map(shape_word).serialize(s)
    }

    pub(in crate::report) fn deserialize<'de, D: Deserializer<'de>>(
        d: D,
    ) -> Result<Option<Shape>, D::Error> {
        let Some(word) = Option::<String>::deserialize(d)? else { return Ok(None) };
        Shape::ALL.into_iter().find(|&x| shape_word(x) == word).map(Some).ok_or_else(|| {
            let words = Shape::ALL.map(shape_word).join(", ");
            D::Error::custom(format!("shape \"{word}\": expected one of {words} or null"))
        })
    }
}

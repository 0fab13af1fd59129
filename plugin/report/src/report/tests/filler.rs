//! Fills plain data by its own description, whatever fields it has, and changes one leaf at a time.

use std::fmt;

use serde::de::{
    self, DeserializeOwned, DeserializeSeed, EnumAccess, IntoDeserializer, MapAccess, SeqAccess,
    VariantAccess, Visitor,
};
use serde::{Deserializer, forward_to_deserialize_any};

/// Data in which nothing is absent, with one leaf like no other where `changed` says which, and the
/// names of its leaves.
pub(super) fn filled<T: DeserializeOwned>(changed: Option<usize>) -> (T, Vec<String>) {
    let mut leaves = Leaves { names: Vec::new(), changed };
    let data = T::deserialize(Filler { path: String::new(), leaves: &mut leaves });
    (data.expect("plain data"), leaves.names)
}

struct Leaves {
    names: Vec<String>,
    changed: Option<usize>,
}

struct Filler<'a> {
    path: String,
    leaves: &'a mut Leaves,
}

impl Filler<'_> {
    /// Number of the next leaf, and whether it is the one that is changed.
    fn leaf(self) -> (usize, bool) {
        let number = self.leaves.names.len();
        self.leaves.names.push(self.path);
        (number, self.leaves.changed == Some(number))
    }

    fn number(self) -> f64 {
        let (number, changed) = self.leaf();
        2.0 + 0.01 * number as f64 + if changed { 0.5 } else { 0.0 }
    }

    fn count(self) -> u32 {
        let (number, changed) = self.leaf();
        10 + number as u32 + u32::from(changed)
    }
}

#[derive(Debug)]
pub(super) struct Refused(String);

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Refused {}

impl de::Error for Refused {
    fn custom<T: fmt::Display>(text: T) -> Self {
        Self(text.to_string())
    }
}

impl<'de> Deserializer<'de> for Filler<'_> {
    type Error = Refused;

    /// What says of itself what it is: what is missing goes by its `kind`, all else are numbers.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refused> {
        if self.path.ends_with("need") {
            let (_, changed) = self.leaf();
            let kind = if changed { "alike" } else { "evidence" };
            return visitor
                .visit_map(de::value::MapDeserializer::new([("kind", kind)].into_iter()));
        }
        visitor.visit_f64(self.number())
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refused> {
        visitor.visit_bool(self.leaf().1)
    }

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refused> {
        visitor.visit_u64(self.count().into())
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refused> {
        visitor.visit_u32(self.count())
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Refused> {
        visitor.visit_some(self)
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, n: usize, visitor: V) -> Result<V::Value, Refused> {
        visitor.visit_seq(Members { filler: self, names: (0..n).map(|k| k.to_string()).collect() })
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refused> {
        let names = fields.iter().rev().map(|&field| field.to_owned()).collect();
        visitor.visit_map(Members { filler: self, names })
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Refused> {
        let (_, changed) = self.leaf();
        // The last two: the first of them often says that nothing is known.
        visitor.visit_enum(Variant(variants[variants.len() - 1 - usize::from(changed)]))
    }

    forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u8 u16 u128 f32 f64 char str string bytes byte_buf unit unit_struct
        newtype_struct seq tuple_struct map identifier ignored_any
    }
}

/// The members of a struct, the last first, or of an array.
struct Members<'a> {
    filler: Filler<'a>,
    names: Vec<String>,
}

impl Members<'_> {
    fn fill<'de, S: DeserializeSeed<'de>>(
        &mut self,
        name: &str,
        seed: S,
    ) -> Result<S::Value, Refused> {
        let path = format!("{}.{name}", self.filler.path);
        let path = path.trim_start_matches('.').to_owned();
        seed.deserialize(Filler { path, leaves: self.filler.leaves })
    }
}

impl<'de> SeqAccess<'de> for Members<'_> {
    type Error = Refused;

    fn next_element_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Refused> {
        self.names.pop().map(|name| self.fill(&name, seed)).transpose()
    }
}

impl<'de> MapAccess<'de> for Members<'_> {
    type Error = Refused;

    fn next_key_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Refused> {
        let name = self.names.last().map(String::as_str);
        name.map(|name| seed.deserialize(name.into_deserializer())).transpose()
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Refused> {
        let name = self.names.pop().unwrap_or_default();
        self.fill(&name, seed)
    }
}

struct Variant(&'static str);

impl<'de> EnumAccess<'de> for Variant {
    type Error = Refused;
    type Variant = Self;

    fn variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<(S::Value, Self), Refused> {
        Ok((seed.deserialize(self.0.into_deserializer())?, self))
    }
}

impl<'de> VariantAccess<'de> for Variant {
    type Error = Refused;

    fn unit_variant(self) -> Result<(), Refused> {
        Ok(())
    }

    fn newtype_variant_seed<S: DeserializeSeed<'de>>(self, _: S) -> Result<S::Value, Refused> {
        Err(de::Error::custom("no plain code"))
    }

    fn tuple_variant<V: Visitor<'de>>(self, _: usize, _: V) -> Result<V::Value, Refused> {
        Err(de::Error::custom("no plain code"))
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        _: &'static [&'static str],
        _: V,
    ) -> Result<V::Value, Refused> {
        Err(de::Error::custom("no plain code"))
    }
}

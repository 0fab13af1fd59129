//! A long list of plain data as one column a field: each name is written once, and
//! [bounds](crate::bounds) go by it. A field that a list does not have yet reads back as its default.

use std::collections::BTreeMap;

use serde::de::{DeserializeOwned, Error as _};
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};

/// Writes a list.
///
/// # Errors
/// Where a member has no named fields, or the writer fails.
pub fn serialize<'a, T, S>(rows: impl IntoIterator<Item = &'a T>, to: S) -> Result<S::Ok, S::Error>
where
    T: Serialize + 'a,
    S: Serializer,
{
    let mut columns: BTreeMap<String, Vec<Value>> = BTreeMap::new();
    for row in rows {
        let fields: Map<String, Value> =
            serde_json::to_value(row).and_then(serde_json::from_value).map_err(S::Error::custom)?;
        for (name, value) in fields {
            columns.entry(name).or_default().push(value);
        }
    }
    columns.serialize(to)
}

/// Reads one back.
///
/// # Errors
/// Where columns differ in length, or a value cannot be read.
pub fn deserialize<'de, T, C, D>(from: D) -> Result<C, D::Error>
where
    T: DeserializeOwned,
    C: FromIterator<T>,
    D: Deserializer<'de>,
{
    let columns: BTreeMap<String, Vec<Value>> = BTreeMap::deserialize(from)?;
    let rows = columns.values().next().map_or(0, Vec::len);
    if let Some((name, column)) = columns.iter().find(|(_, column)| column.len() != rows) {
        let got = column.len();
        return Err(D::Error::custom(format!("column \"{name}\" of {got}: expected {rows}")));
    }
    let row = |k: usize| {
        let fields = columns.iter().map(|(name, column)| (name.clone(), column[k].clone()));
        serde_json::from_value(Value::Object(fields.collect())).map_err(D::Error::custom)
    };
    (0..rows).map(row).collect()
}

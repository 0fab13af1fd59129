//! Numbers that no measurement gives. What is read back from a session or a report may have been
//! damaged or made by anybody; pictures with axes for a thousand years or a million decibels would
//! take all memory there is.

use std::fmt;

use serde_json::Value;

/// Largest size of a number by the end of its field's name. Ours: far outside of all that audio at
/// 8 to 384 kHz in 32-bit floats can give, and near enough for every picture.
const LARGEST: &[(&str, f64)] = &[
    // 116 days.
    ("_s", 1e7),
    ("_ms", 1e9),
    ("_db", 4000.0),
    ("_lu", 4000.0),
    ("_lufs", 4000.0),
    ("_dbfs", 4000.0),
    ("_dbtp", 4000.0),
    ("_hz", 1e7),
    // Of a kept pass: place in quarter notes, and decibels.
    ("hits", 1e6),
    ("beat", 1e7),
    ("beats", 1e7),
    // Times, s, and the bars' numbers, which hosts give with 32 bits.
    ("bars", 1e10),
    ("number", 1e10),
];

/// Largest size of any other number: what a count of 64 bits can hold.
const LARGEST_COUNT: f64 = u64::MAX as f64;

/// A number out of all proportion.
#[derive(Clone, Debug, PartialEq)]
pub struct OutOfBounds {
    /// Its field; the nearest name where it stands in a list.
    pub field: String,
    /// The number.
    pub value: f64,
    /// Largest size that is taken.
    pub largest: f64,
}

impl fmt::Display for OutOfBounds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { field, value, largest } = self;
        write!(f, "field \"{field}\" is {value:e}: expected at most {largest:e} either way")
    }
}

/// Looks at every number of a report, a saved pass or a list of them.
///
/// # Errors
/// The first number that is out of all proportion.
pub fn check(value: &Value) -> Result<(), OutOfBounds> {
    walk("", value)
}

fn walk(name: &str, value: &Value) -> Result<(), OutOfBounds> {
    match value {
        Value::Number(number) => {
            let value = number.as_f64().unwrap_or(f64::INFINITY);
            let largest = LARGEST
                .iter()
                .find(|(end, _)| name.ends_with(end))
                .map_or(LARGEST_COUNT, |(_, largest)| *largest);
            if value.abs() <= largest {
                return Ok(());
            }
            Err(OutOfBounds { field: name.to_owned(), value, largest })
        }
        // Members of a list, and of what has no field with a unit of its own, go by its name.
        Value::Array(list) => list.iter().try_for_each(|item| walk(name, item)),
        Value::Object(map) => map.iter().try_for_each(|(own, item)| {
            let unit = LARGEST.iter().any(|(end, _)| own.ends_with(end));
            walk(if unit || !name.ends_with("_db") { own } else { name }, item)
        }),
        Value::Null | Value::Bool(_) | Value::String(_) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn numbers_go_by_their_fields() {
        let good = json!({"duration_s": 1e6, "hits": [[1.5, -8.0, null]], "nan_samples": 1e12,
            "costs_db": {"ceiling": [1.0, null]}, "mix": {"sample_rate_hz": 384_000}});
        assert_eq!(check(&good), Ok(()));
        for (bad, field) in [
            (json!({"mix": {"duration_s": 1e300}}), "duration_s"),
            (json!({"costs_db": {"ceiling": [1.0, -1e9]}}), "costs_db"),
            (json!({"hits": [{"contrast_db": 1e4}]}), "contrast_db"),
            (json!([{"hits": [[0.0, 1e30, null]]}]), "hits"),
            (json!({"hits_left_out": 1e30}), "hits_left_out"),
        ] {
            let error = check(&bad).expect_err("out of bounds");
            assert_eq!(error.field, field, "{error}");
        }
    }
}

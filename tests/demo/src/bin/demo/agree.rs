//! Whether the plug-in and the file check say the same.

use std::fmt;

use serde_json::Value;

use super::Result;

/// Largest difference between two equal numbers, in the numbers' own unit.
const TOLERANCE: f64 = 1e-6;

/// What a comparison has found.
#[derive(Clone, Debug, Default)]
pub struct Agreement {
    /// Numbers and states that both know.
    values: u64,
    /// Values that only one of the two knows.
    one_sided: Vec<String>,
    /// Largest difference between two numbers.
    largest: f64,
    /// Values that differ.
    different: Vec<String>,
}

impl Agreement {
    /// Whether every value that both know is the same.
    pub fn holds(&self) -> bool {
        self.different.is_empty() && self.values > 0
    }

    /// Adds what another comparison has found.
    pub fn add(&mut self, other: Self) {
        self.values += other.values;
        self.one_sided.extend(other.one_sided);
        self.largest = self.largest.max(other.largest);
        self.different.extend(other.different);
    }
}

impl fmt::Display for Agreement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.holds() {
            write!(
                f,
                "{} values equal, the largest difference is {:.1e} (allowed {TOLERANCE:.0e})",
                self.values, self.largest
            )?;
        } else {
            write!(f, "{} of {} values DIFFER", self.different.len(), self.values)?;
            for line in self.different.iter().take(5) {
                write!(f, "\n        {line}")?;
            }
        }
        if let Some(first) = self.one_sided.first() {
            write!(f, "; {} known to one only, such as {first}", self.one_sided.len())?;
        }
        Ok(())
    }
}

/// Compares the plug-in's report with the file check's.
pub fn compare(plug_in: &str, file: &str) -> Result<Agreement> {
    let plug_in: Value = serde_json::from_str(plug_in)?;
    let file: Value = serde_json::from_str(file)?;
    let mut agreement = Agreement::default();
    // Who measured and what the mix is called may differ; sentences are made of the numbers.
    for part in ["loudness", "balance", "punch", "leaks", "input"] {
        walk(part, &plug_in[part], &file[part], &mut agreement);
    }
    let mix = ["sample_rate_hz", "channels", "duration_s"];
    for field in mix {
        walk(&format!("mix.{field}"), &plug_in["mix"][field], &file["mix"][field], &mut agreement);
    }
    hits(&plug_in["hits"], &file["hits"], &mut agreement);
    for part in ["parts", "timing", "arrangement"] {
        walk(part, &plug_in[part], &file[part], &mut agreement);
    }
    Ok(agreement)
}

fn hits(plug_in: &Value, file: &Value, agreement: &mut Agreement) {
    let none = Vec::new();
    let (ours, theirs) = (plug_in.as_array().unwrap_or(&none), file.as_array().unwrap_or(&none));
    // What a hit has lost is judged when it is given out, as all of it was; none is left out, and
    // a different number of hits is a difference.
    lists("hits", ours, theirs, agreement);
}

/// A different number of entries is a difference, and so is each of the others'.
fn lists(name: &str, ours: &[Value], theirs: &[Value], agreement: &mut Agreement) {
    agreement.values += 1;
    if ours.len() != theirs.len() {
        agreement.different.push(format!("{name}: {} and {}", ours.len(), theirs.len()));
    }
    for (index, (a, b)) in ours.iter().zip(theirs).enumerate() {
        walk(&format!("{name}[{index}]"), a, b, agreement);
    }
}

fn walk(name: &str, plug_in: &Value, file: &Value, agreement: &mut Agreement) {
    match (plug_in, file) {
        (Value::Null, Value::Null) => {}
        (Value::Null, _) => agreement.one_sided.push(format!("{name} (file check)")),
        (_, Value::Null) => agreement.one_sided.push(format!("{name} (plug-in)")),
        (Value::Object(a), Value::Object(b)) => {
            for (key, a) in a {
                if let Some(b) = b.get(key) {
                    walk(&format!("{name}.{key}"), a, b, agreement);
                }
            }
        }
        (Value::Array(a), Value::Array(b)) => lists(name, a, b, agreement),
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            agreement.values += 1;
            let difference = (a - b).abs();
            if difference <= TOLERANCE {
                agreement.largest = agreement.largest.max(difference);
            } else {
                agreement.different.push(format!("{name}: {a} and {b}"));
            }
        }
        (a, b) => {
            agreement.values += 1;
            if a != b {
                agreement.different.push(format!("{name}: {a} and {b}"));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(a: &str, b: &str) -> Agreement {
        let report = |x| format!(r#"{{"loudness":{{"a":{x}}},"hits":[]}}"#);
        compare(&report(a), &report(b)).expect("both are JSON")
    }

    #[test]
    fn a_difference_is_found_and_a_rounding_is_not() {
        assert!(found("1.0", "1.0000005").holds());
        assert!(!found("1.0", "1.000002").holds());
        assert!(!found("\"clear\"", "\"watch\"").holds());
        let one = found("null", "1.0");
        assert!(one.holds() && one.one_sided == ["loudness.a (file check)"]);
    }
}

//! Whether the plug-in and the file check say the same.

use std::fmt;

use serde_json::Value;

use super::Result;

/// Largest difference between two equal numbers, in the numbers' own unit.
const TOLERANCE: f64 = 1e-6;
/// Leaks whose costs the file check measures again on the parts' audio, which the plug-in does not
/// have: it estimates them.
const REMEASURED: [&str; 3] = ["timing", "clutter", "drive"];
/// Largest difference between such a cost as estimated and as re-measured, dB.
const ESTIMATE_DB: f64 = 0.3;

/// Largest difference of the ceiling's cost and of its reduction where a side-chain is read too, dB. The
/// estimate is brought up to date every half a second, and reading a side-chain moves these moments: what
/// each hit has lost, read as it came, is then not compared.
const CEILING_DB: f64 = 0.3;
/// What of the ceiling is compared then, within it.
const CEILING_NUMBERS: [&str; 2] = ["cost_db", "implied_reduction_db"];

/// What a comparison has found.
#[derive(Clone, Debug, Default)]
pub struct Agreement {
    /// Numbers and states that both know.
    values: u64,
    /// Values that only one of the two knows.
    one_sided: Vec<String>,
    /// Largest difference between two numbers.
    largest: f64,
    /// Costs that one has estimated and the other measured again: how many, and how far apart at most,
    /// dB.
    estimates: (u64, f64),
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
        self.estimates.0 += other.estimates.0;
        self.estimates.1 = self.estimates.1.max(other.estimates.1);
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
        if self.estimates.0 > 0 {
            write!(
                f,
                "; {} costs estimated in the plug-in and re-measured by the file check, {:.2} dB apart \
                 at most (allowed {ESTIMATE_DB:.1})",
                self.estimates.0, self.estimates.1
            )?;
        }
        if let Some(first) = self.one_sided.first() {
            write!(f, "; {} known to one only, such as {first}", self.one_sided.len())?;
        }
        Ok(())
    }
}

/// Compares the plug-in's report with the file check's. What the one estimates and the other measures
/// on audio may be further apart ([`ESTIMATE_DB`]), and so the sentences made of it; the drums' strokes
/// that the mix drowns are known to the file check alone. `side`: whether the plug-in has read a
/// side-chain ([`CEILING_DB`]).
pub fn compare(plug_in: &str, file: &str, side: bool) -> Result<Agreement> {
    let mut plug_in: Value = serde_json::from_str(plug_in)?;
    let mut file: Value = serde_json::from_str(file)?;
    let mut agreement = Agreement::default();
    let measured = |report: &Value| {
        REMEASURED.iter().any(|leak| report["leaks"][leak]["measured"] == Value::Bool(true))
    };
    if measured(&file) && !measured(&plug_in) {
        estimates(&mut plug_in, &mut file, &mut agreement);
    }
    if side {
        ceilings(&mut plug_in, &mut file, &mut agreement);
    }
    if plug_in["punch"]["buried"].is_null() && !file["punch"]["buried"].is_null() {
        found_alone(&mut plug_in, &mut file);
    }
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

/// Compares the costs of the leaks that the file check has measured again with the plug-in's estimates,
/// and takes what follows from them out of both.
fn estimates(plug_in: &mut Value, file: &mut Value, agreement: &mut Agreement) {
    for leak in REMEASURED {
        let place = format!("/leaks/{leak}/cost_db");
        if let Some(apart) = within(&place, ESTIMATE_DB, plug_in, file, agreement) {
            agreement.estimates.0 += 1;
            agreement.estimates.1 = agreement.estimates.1.max(apart);
        }
        let loses = |report: &Value| {
            matches!(report["leaks"][leak]["state"].as_str(), Some("watch" | "leaking"))
        };
        agreement.values += 1;
        if loses(plug_in) != loses(file) {
            agreement.different.push(format!("leaks.{leak}.state"));
        }
    }
    for report in [plug_in, file] {
        for leak in REMEASURED {
            if let Some(leak) = report["leaks"][leak].as_object_mut() {
                leak.retain(|name, _| name == "need");
            }
        }
        for part in report["parts"].as_array_mut().into_iter().flatten() {
            if let Some(part) = part.as_object_mut() {
                part.retain(|name, _| !name.starts_with("if_") && name != "leak_costs_db");
            }
        }
        for (group, name) in [("timing", "summed"), ("arrangement", "thin_out")] {
            if let Some(group) = report[group].as_object_mut() {
                group.remove(name);
            }
        }
    }
}

/// How far two numbers at a place are apart, dB, where both know it: a difference beyond `most_db`.
fn within(
    place: &str,
    most_db: f64,
    plug_in: &Value,
    file: &Value,
    agreement: &mut Agreement,
) -> Option<f64> {
    let number = |report: &Value| report.pointer(place).and_then(Value::as_f64);
    let (a, b) = (number(plug_in)?, number(file)?);
    if (a - b).abs() > most_db {
        agreement.different.push(format!("{place}: {a} and {b}"));
    }
    Some((a - b).abs())
}

/// Compares the ceiling's numbers within [`CEILING_DB`], and takes what follows from them out of both but
/// for its state.
fn ceilings(plug_in: &mut Value, file: &mut Value, agreement: &mut Agreement) {
    for name in CEILING_NUMBERS {
        agreement.values += 1;
        within(&format!("/leaks/ceiling/{name}"), CEILING_DB, plug_in, file, agreement);
    }
    for report in [plug_in, file] {
        if let Some(ceiling) = report["leaks"]["ceiling"].as_object_mut() {
            ceiling.retain(|name, _| matches!(name.as_str(), "state" | "need"));
        }
        for hit in report["hits"].as_array_mut().into_iter().flatten() {
            if let Some(hit) = hit.as_object_mut() {
                hit.remove("lost_db");
            }
        }
    }
}

/// Takes the strokes that were not found in the mix, and the statistics with them, out of both.
fn found_alone(plug_in: &mut Value, file: &mut Value) {
    if let Some(hits) = file["hits"].as_array_mut() {
        hits.retain(|hit| !hit["true_peak_dbtp"].is_null());
    }
    for report in [plug_in, file] {
        if let Some(punch) = report["punch"].as_object_mut() {
            punch.clear();
        }
    }
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
        compare(&report(a), &report(b), false).expect("both are JSON")
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

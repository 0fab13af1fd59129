//! The song of the whole sessions: a part a track, and what `brunt check --part` says of the same files.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

use crate::report::Seen;
use crate::songs;

/// Length of the song, s.
pub(super) const LENGTH_S: u32 = 40;
/// The version of the demo's song: its parts are off each other.
const VERSION: &str = "timing";
/// Asked for: offset and spread, ms; costs, dB.
const BAR: f64 = 0.1;
/// Costs that files are measured again for, and that the plug-in, which has no audio of the parts,
/// estimates: what the demo lets pass between the two, dB. The bar is asked of these, too, and missed.
const ESTIMATE_DB: f64 = 0.3;
/// Roles in the order in which the parameter counts them; 0 is the mix.
pub(super) const ROLES: [&str; 5] = ["drums", "bass", "guitars", "vocals", "other"];

/// One part: its file, and what the host calls it.
pub(super) struct Part {
    pub(super) role: usize,
    pub(super) name: String,
    pub(super) file: PathBuf,
}

/// Renders the song's parts, by the program that has been built for it.
pub(super) fn parts(place: &Path) -> Result<Vec<Part>> {
    let folder = place.join("songs");
    songs::render(&folder, &[VERSION])?;
    let folder = folder.join(VERSION);
    let mut found = Vec::new();
    for (role, file) in songs::stems(&folder)? {
        let known = ROLES.iter().position(|known| *known == role);
        let known = known.with_context(|| format!("{}: expected a role first", file.display()))?;
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let name = stem[role.len() + 1..].to_owned();
        found.push(Part { role: known, name, file });
    }
    found.sort_by(|a, b| (a.role, &a.name).cmp(&(b.role, &b.name)));
    ensure!(found.len() > 1, "{}: expected parts", folder.display());
    Ok(found)
}

/// What `brunt check` says of the sum of the parts.
pub(super) fn expected(parts: &[Part]) -> Result<Value> {
    let mix = parts[0].file.with_file_name("mix.wav");
    let part = |part: &Part| (ROLES[part.role].to_owned(), part.file.clone());
    songs::check(&mix, &parts.iter().map(part).collect::<Vec<_>>())
}

/// The reading of the mix among the states of a saved session's plug-ins: the one that has parts.
pub(super) fn reading(states: Vec<Value>) -> Result<Value> {
    let count = states.len();
    let mut readings = states.into_iter().filter_map(|state| {
        let pass: Value = serde_json::from_str(state["fields"]["pass"].as_str()?).ok()?;
        let has_parts = pass["report"]["parts"].as_array().is_some_and(|parts| !parts.is_empty());
        has_parts.then(|| pass["report"].clone())
    });
    let found = readings.next();
    found.with_context(|| format!("none of {count} saved states holds a reading with parts"))
}

/// Offset and spread of every part.
pub(super) fn compare_parts(expected: &Value, read: &Result<Value>, count: usize) -> Result<Seen> {
    let read = read.as_ref().map_err(|error| anyhow::anyhow!("{error:#}"))?;
    let list = |json: &Value| json["parts"].as_array().cloned().unwrap_or_default();
    let (here, mut there) = (list(expected), list(read));
    ensure!(there.len() == count, "{} of {count} parts are in the mix's reading", there.len());
    let named = there.iter().any(|part| name(part).is_some());
    let mut worst = [0.0f64; 2];
    for part in &here {
        let file = part["file"].as_str().unwrap_or_default();
        let stem = Path::new(file).file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let own = stem.split_once(' ').map_or(stem.as_str(), |(_, name)| name);
        let offset = |part: &Value| part["offset_ms"].as_f64().unwrap_or_default();
        let apart = |other: &Value| (offset(other) - offset(part)).abs();
        let same = (0..there.len())
            .filter(|&n| there[n]["role"] == part["role"])
            .filter(|&n| !named || name(&there[n]) == Some(own))
            // Without names the takes of one role are told by where they are.
            .min_by(|&a, &b| apart(&there[a]).total_cmp(&apart(&there[b])));
        let same = same.with_context(|| format!("{own} is not in the mix's reading"))?;
        let same = there.swap_remove(same);
        for (field, worst) in ["offset_ms", "spread_ms"].into_iter().zip(&mut worst) {
            match (part[field].as_f64(), same[field].as_f64()) {
                (Some(a), Some(b)) => {
                    *worst = worst.max((a - b).abs());
                    ensure!((a - b).abs() <= BAR, "{own}: {field} {b} in the host, {a} in files");
                }
                (None, None) => {}
                (a, b) => bail!("{own}: {field} {b:?} in the host, {a:?} in files"),
            }
        }
    }
    let how = if named { "" } else { ", by their roles: the host gives no names" };
    Ok(Seen::Well(format!(
        "all {count} in the mix{how}; offset within {:.3} ms, spread within {:.3} ms (bar {BAR})",
        worst[0], worst[1]
    )))
}

/// What the host calls a part in a reading, if it does.
fn name(part: &Value) -> Option<&str> {
    let names = [&part["name"], &part["file"]];
    names.into_iter().filter_map(Value::as_str).find(|name| !name.is_empty())
}

/// The cost of every leak.
pub(super) fn compare_costs(expected: &Value, read: &Result<Value>) -> Result<Seen> {
    let read = read.as_ref().map_err(|error| anyhow::anyhow!("{error:#}"))?;
    let mut shown = Vec::new();
    let mut far = Vec::new();
    for leak in ["ceiling", "timing", "clutter", "drive", "mids"] {
        let cost = |json: &Value| json["leaks"][leak]["cost_db"].as_f64();
        let text = match (cost(expected), cost(read)) {
            (Some(a), Some(b)) => {
                let again = expected["leaks"][leak]["measured"] == true;
                let (bar, how) = if again { (ESTIMATE_DB, ", re-measured") } else { (BAR, "") };
                let text = format!("{leak} {b:.2} ({a:.2}{how})");
                if (a - b).abs() > bar {
                    far.push(text.clone());
                }
                text
            }
            (None, None) => format!("{leak} unknown"),
            (a, b) => {
                far.push(format!("{leak}: {b:?} in the host, {a:?} in files"));
                continue;
            }
        };
        shown.push(text);
    }
    let shown = format!("dB in the host (in files): {}", shown.join(", "));
    ensure!(far.is_empty(), "{shown}; too far apart: {}", far.join(", "));
    Ok(Seen::Well(shown))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// Two guitars that the host gives no names are told by their places; one that is off is found.
    #[test]
    fn parts_are_compared_by_name_or_by_place() {
        let here = json!({"parts": [
            {"role": "guitars", "file": "guitars left.wav", "offset_ms": 21.0, "spread_ms": 8.0},
            {"role": "guitars", "file": "guitars right.wav", "offset_ms": -16.0, "spread_ms": 8.1},
            {"role": "drums", "file": "drums kit.wav", "offset_ms": null, "spread_ms": null},
        ]});
        let there = |names: [&str; 3], left: f64| -> Result<Value> {
            Ok(json!({"parts": [
                {"role": "guitars", "file": names[0], "offset_ms": -16.0, "spread_ms": 8.1},
                {"role": "drums", "file": names[1], "offset_ms": null, "spread_ms": null},
                {"role": "guitars", "file": names[2], "offset_ms": left, "spread_ms": 8.0},
            ]}))
        };
        let judge = |read: Result<Value>| compare_parts(&here, &read, 3).is_ok();
        assert!(judge(there(["", "", ""], 21.05)));
        assert!(judge(there(["right", "kit", "left"], 21.05)));
        // Off; under each other's names; one missing.
        assert!(!judge(there(["", "", ""], 21.2)));
        assert!(!judge(there(["left", "kit", "right"], 21.0)));
        assert!(!judge(there(["right", "kit", "solo"], 21.0)));
    }

    #[test]
    fn a_cost_that_is_off_is_found() {
        let costs = |timing: f64, measured: bool| -> Value {
            json!({"leaks": {
                "ceiling": {"cost_db": 0.2},
                "timing": {"cost_db": timing, "measured": measured},
            }})
        };
        let judge =
            |there: f64, measured| compare_costs(&costs(1.0, measured), &Ok(costs(there, false)));
        assert!(judge(1.09, false).is_ok());
        assert!(judge(1.12, false).is_err());
        assert!(judge(1.22, true).is_ok());
        assert!(judge(1.32, true).is_err());
    }
}

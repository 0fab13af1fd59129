//! The crates that are linked, by cargo's own account.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::process::Stdio;

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::workspace::cargo;

/// What is shipped.
const SHIPPED: &[&str] = &["brunt", "brunt-cli"];

/// The system that this program runs on, by a name that cargo knows.
pub const THIS_SYSTEM: &str = if cfg!(windows) {
    "x86_64-pc-windows-msvc"
} else if cfg!(target_os = "macos") {
    "aarch64-apple-darwin"
} else {
    "x86_64-unknown-linux-gnu"
};

/// One crate that is not our own.
pub struct Crate {
    pub name: String,
    pub version: String,
    /// SPDX expression.
    pub licence: Option<String>,
    pub from_registry: bool,
    /// Where its source lies on this machine.
    pub folder: PathBuf,
    pub authors: Vec<String>,
}

/// Every crate that is linked into what is shipped for `system`, without those that only run while
/// it is built.
pub fn linked(system: &str) -> Result<Vec<Crate>> {
    let output = cargo(["metadata", "--format-version", "1", "--filter-platform", system])
        .stderr(Stdio::inherit())
        .output()
        .context("cannot run cargo metadata")?;
    if !output.status.success() {
        bail!("cargo metadata: {}", output.status);
    }
    let metadata: Value =
        serde_json::from_slice(&output.stdout).context("cargo metadata printed no JSON")?;
    let by_id = |list: &Value| -> BTreeMap<String, Value> {
        let items = list.as_array().cloned().unwrap_or_default();
        items.into_iter().map(|item| (text(&item["id"]), item)).collect()
    };
    let packages = by_id(&metadata["packages"]);
    let nodes = by_id(&metadata["resolve"]["nodes"]);
    let ours = |package: &Value| package["source"].is_null();
    let mut waiting: Vec<String> = packages
        .iter()
        .filter(|(_, package)| ours(package) && SHIPPED.contains(&&*text(&package["name"])))
        .map(|(id, _)| id.clone())
        .collect();
    if waiting.len() != SHIPPED.len() {
        bail!("cargo metadata does not name {}", SHIPPED.join(" and "));
    }
    let mut seen = BTreeSet::new();
    while let Some(id) = waiting.pop() {
        if !seen.insert(id.clone()) {
            continue;
        }
        for dependency in nodes.get(&id).and_then(|n| n["deps"].as_array()).into_iter().flatten() {
            let kinds = dependency["dep_kinds"].as_array().into_iter().flatten();
            // A kind without a name is a plain dependency; the others are `dev` and `build`.
            if kinds.into_iter().any(|kind| kind["kind"].is_null()) {
                waiting.push(text(&dependency["pkg"]));
            }
        }
    }
    let found = seen.iter().filter_map(|id| packages.get(id)).filter(|package| !ours(package));
    Ok(found.map(of).collect())
}

fn of(package: &Value) -> Crate {
    let manifest = PathBuf::from(text(&package["manifest_path"]));
    let authors = package["authors"].as_array().into_iter().flatten();
    Crate {
        name: text(&package["name"]),
        version: text(&package["version"]),
        licence: package["license"].as_str().map(str::to_owned),
        from_registry: text(&package["source"]).starts_with("registry+"),
        folder: manifest.parent().map(PathBuf::from).unwrap_or_default(),
        authors: authors.map(text).collect(),
    }
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

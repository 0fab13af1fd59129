//! `cargo xtask licences`: every crate that the plug-in and the program link, on each system that
//! they are built for, is allowed by its licence, comes from the public registry, and stands with
//! its licence's text in `THIRD-PARTY.md`.

pub mod crates;
mod texts;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::process::ExitCode;

use anyhow::{Context, Result, bail};
use spdx::{Expression, ParseMode};

use crates::Crate;

/// The list that is made.
const LIST: &str = "THIRD-PARTY.md";

/// Licences under which a crate may be linked into a program under MIT or Apache-2.0, the ones
/// preferred where a crate offers several first.
const ALLOWED: &[(&str, &str)] = &[
    ("MIT", "permissive"),
    ("ISC", "permissive"),
    ("Unlicense", "permissive; public domain"),
    ("Zlib", "permissive"),
    ("BSD-2-Clause", "permissive"),
    ("BSD-3-Clause", "permissive"),
    ("BSL-1.0", "permissive"),
    ("Apache-2.0", "permissive"),
    ("Unicode-3.0", "permissive; data tables"),
    ("OFL-1.1", "typefaces; may be bundled with any program"),
    ("Ubuntu-font-1.0", "typefaces; may be bundled with any program"),
    ("MPL-2.0", "covers its own files alone, which are used unchanged and lie in the registry"),
];

/// Where nothing is shipped, nothing has to be allowed.
const SYSTEMS: &[&str] = &[
    "x86_64-unknown-linux-gnu",
    "x86_64-pc-windows-gnu",
    "x86_64-pc-windows-msvc",
    "aarch64-apple-darwin",
];

/// Checks all systems and writes the list.
pub fn run() -> Result<ExitCode> {
    let mut all: BTreeMap<(String, String), Crate> = BTreeMap::new();
    for system in SYSTEMS {
        for found in crates::linked(system)? {
            all.insert((found.name.clone(), found.version.clone()), found);
        }
    }
    let all: Vec<Crate> = all.into_values().collect();
    let findings: Vec<String> = all.iter().filter_map(|found| chosen(found).err()).collect();
    for finding in &findings {
        println!("licences: {finding}");
    }
    let text = list(&all)?;
    fs::write(LIST, &text).with_context(|| format!("cannot write {LIST}"))?;
    println!("{LIST}: {} crates, {} findings", all.len(), findings.len());
    Ok(if findings.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// For `cargo xtask tidy`: what is linked on this system is allowed and stands in the list.
pub fn check() -> Result<Vec<String>> {
    let text = fs::read_to_string(LIST).with_context(|| format!("cannot read {LIST}"))?;
    let linked = crates::linked(crates::THIS_SYSTEM)?;
    let mut findings: Vec<_> = linked.iter().filter_map(|found| chosen(found).err()).collect();
    findings.extend(linked.iter().filter(|found| !text.contains(&line(found))).map(|found| {
        format!(
            "{LIST}: {} {} is missing: expected it listed; `cargo xtask licences` does so",
            found.name, found.version
        )
    }));
    Ok(findings)
}

/// The licences that a crate is used under, or why it may not be used.
fn chosen(found: &Crate) -> Result<Vec<&'static str>, String> {
    let place = format!("{} {}", found.name, found.version);
    if !found.from_registry {
        return Err(format!("{place}: not from the public registry: expected no other source"));
    }
    let licence = found.licence.as_deref().unwrap_or_default();
    let expression = Expression::parse_mode(licence, ParseMode::LAX)
        .map_err(|e| format!("{place}: licence \"{licence}\": {}", e.reason))?;
    // The fewest and most preferred ones that are enough.
    let enough = |names: &[&'static str]| {
        expression.evaluate(|wanted| wanted.license.id().is_some_and(|id| names.contains(&id.name)))
    };
    let mut names: Vec<&'static str> = ALLOWED.iter().map(|(name, _)| *name).collect();
    if !enough(&names) {
        return Err(format!("{place}: licence \"{licence}\": expected one of {names:?}"));
    }
    for name in ALLOWED.iter().rev().map(|(name, _)| *name) {
        let fewer: Vec<_> = names.iter().copied().filter(|other| *other != name).collect();
        if enough(&fewer) {
            names = fewer;
        }
    }
    Ok(names)
}

fn line(found: &Crate) -> String {
    format!("\n- {} {}:", found.name, found.version)
}

/// The whole list.
fn list(all: &[Crate]) -> Result<String> {
    let mut text = String::from(
        "# Third-party software in Brunt\n\nMade by `cargo xtask licences` from the crates that the \
         plug-in and the program `brunt` link on\nLinux, Windows and macOS. Each is used \
         unchanged; its source lies in the public Rust registry\nunder the name and version given \
         here. Where a crate offers several licences, the one it is used\nunder is named.\n",
    );
    // One text, and all the crates that carry it.
    let mut texts: BTreeMap<(&str, String), Vec<&Crate>> = BTreeMap::new();
    for found in all {
        let Ok(names) = chosen(found) else { continue };
        write!(text, "{} {}", line(found), names.join(", "))?;
        for name in names {
            let own = texts::of(found, name)?;
            texts.entry((name, own)).or_default().push(found);
        }
    }
    text.push('\n');
    for ((name, own), crates) in texts {
        let names: Vec<_> = crates.iter().map(|c| format!("{} {}", c.name, c.version)).collect();
        write!(text, "\n## {name}: {}\n\n```text\n{own}\n```\n", names.join(", "))?;
    }
    if text.contains('\r') {
        bail!("a licence's text keeps a carriage return");
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn under(licence: &str) -> Result<Vec<&'static str>, String> {
        chosen(&Crate {
            name: "some".to_owned(),
            version: "1.0.0".to_owned(),
            licence: Some(licence.to_owned()),
            from_registry: true,
            folder: std::path::PathBuf::new(),
            authors: Vec::new(),
        })
    }

    #[test]
    fn the_lightest_licences_that_are_enough_are_chosen() {
        assert_eq!(under("MIT OR Apache-2.0"), Ok(vec!["MIT"]));
        assert_eq!(under("Unlicense/MIT"), Ok(vec!["MIT"]));
        assert_eq!(under("Apache-2.0 OR GPL-2.0-only"), Ok(vec!["Apache-2.0"]));
        assert_eq!(
            under("(MIT OR Apache-2.0) AND OFL-1.1 AND Ubuntu-font-1.0"),
            Ok(vec!["MIT", "OFL-1.1", "Ubuntu-font-1.0"])
        );
        assert!(under("GPL-3.0-only").is_err());
        assert!(under("MIT AND GPL-3.0-only").is_err());
        assert!(under("").is_err());
    }
}

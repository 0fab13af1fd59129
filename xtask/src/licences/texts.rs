//! The text of a crate's licence.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::crates::Crate;

/// A stretch of each licence's text that no other has, in small letters and single spaces.
const MARKS: &[(&str, &str)] = &[
    ("MIT", "permission is hereby granted, free of charge"),
    ("ISC", "permission to use, copy, modify, and"),
    ("Zlib", "this software is provided 'as-is'"),
    ("BSD-2-Clause", "redistribution and use in source and binary forms"),
    ("BSD-3-Clause", "redistribution and use in source and binary forms"),
    ("BSL-1.0", "boost software license"),
    ("Apache-2.0", "apache license version 2.0"),
    ("Unicode-3.0", "unicode license v3"),
    ("OFL-1.1", "sil open font license version 1.1"),
    ("Ubuntu-font-1.0", "ubuntu font licence version 1.0"),
    ("MPL-2.0", "mozilla public license"),
];

/// Texts that are the same for everyone: told once, at their own place.
const BY_NAME: &[(&str, &str)] = &[
    ("Apache-2.0", "The text stands in LICENSE-APACHE beside this file."),
    (
        "MPL-2.0",
        "The text stands at https://www.mozilla.org/MPL/2.0/ (Mozilla Public License 2.0).",
    ),
];

/// Beginnings of the names of files that hold a licence's text.
const NAMES: &[&str] = &["LICEN", "COPYING", "UNLICENSE", "OFL", "UFL", "NOTICE"];

/// The text under which `found` is used: its own file's, or else its authors and the name.
pub fn of(found: &Crate, licence: &str) -> Result<String> {
    if let Some((_, place)) = BY_NAME.iter().find(|(name, _)| *name == licence) {
        return Ok((*place).to_owned());
    }
    let mark = MARKS.iter().find(|(name, _)| *name == licence).map_or("", |(_, mark)| mark);
    for file in files(&found.folder, 2)? {
        let text = String::from_utf8_lossy(
            &fs::read(&file).with_context(|| format!("cannot read {}", file.display()))?,
        )
        .replace('\r', "");
        if flat(&text).contains(mark) {
            let lines: Vec<_> = text.trim().lines().map(str::trim_end).collect();
            return Ok(lines.join("\n"));
        }
    }
    let who = if found.authors.is_empty() {
        format!("The authors of {}", found.name)
    } else {
        let named = found.authors.iter().map(|author| author.split(" <").next().unwrap_or(author));
        named.collect::<Vec<_>>().join(", ")
    };
    Ok(format!("Copyright {who}. The crate carries no text of its own; {licence} as above."))
}

/// Small letters, single spaces.
fn flat(text: &str) -> String {
    let words = text.to_lowercase().replace(['"', '\u{2018}', '\u{2019}'], "'");
    words
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .replace(" , ", " ")
        .replace(", version", " version")
}

/// Files in a crate's folder, and `depth - 1` folders below, whose names say that they hold a
/// licence.
fn files(folder: &Path, depth: u32) -> Result<Vec<PathBuf>> {
    let list = fs::read_dir(folder).with_context(|| format!("cannot list {}", folder.display()))?;
    let mut found = Vec::new();
    let mut below = Vec::new();
    for entry in list {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().to_uppercase();
        if path.is_dir() {
            if depth > 1 {
                below.extend(files(&path, depth - 1)?);
            }
        } else if NAMES.iter().any(|start| name.starts_with(start))
            || (name.contains("OFL") || name.contains("LICENSE"))
        {
            found.push(path);
        }
    }
    found.sort();
    below.sort();
    found.extend(below);
    Ok(found)
}

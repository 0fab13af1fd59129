//! Rules for one file: its length, its name, and what its text may not hold.

use std::ffi::OsStr;
use std::fs;
use std::path::Path;

use anyhow::{Context, Result};

use super::finding::Finding;

/// Longest Rust file, lines.
const MAX_LINES: usize = 500;

/// Longer files, each with the reason why it is not split.
const MAY_BE_LONGER: &[(&str, &str)] = &[];

/// What no committed text may hold, and why. Each is cut in two here, or this file would break
/// its own rule.
const BANNED: &[(&[&str], &str)] = &[
    (&["/wo", "rk/"], "a path of one machine"),
    (&["/ho", "me/"], "a path of one machine"),
    (&["/Us", "ers/"], "a path of one machine"),
    (&["/ro", "ot/"], "a path of one machine"),
    (&["/tm", "p/"], "a path of one machine: ask the system for a temporary folder"),
    (&["crates", ".io"], "a registry's host"),
    (&["py", "pi.org"], "a registry's host"),
    (&["deb.deb", "ian.org"], "a registry's host"),
    (&["archive.ubu", "ntu.com"], "a registry's host"),
];

/// Comments that the compiler's documentation takes tests from. Building those for each crate took
/// longer than they would say, so no crate has any.
const DOC_COMMENTS: [&str; 2] = ["///", "//!"];

/// Lock files name the registry of every crate by cargo's own rule.
const LOCK: &str = "Cargo.lock";

/// What the engine's sources may not call: it knows no file, thread, clock or network.
const ENGINE_BANNED: &[&str] =
    &["std::fs", "std::io", "std::net", "std::process", "std::thread", "std::time", "println!"];

pub fn check(path: &Path) -> Result<Vec<Finding>> {
    let bytes = fs::read(path).with_context(|| format!("cannot read {}", path.display()))?;
    let name = path.to_string_lossy().replace('\\', "/");
    Ok(match String::from_utf8(bytes) {
        Ok(text) => judge(&name, &text),
        Err(_) => judge_binary(&name),
    })
}

fn judge_binary(name: &str) -> Vec<Finding> {
    let sound = ["wav", "aiff", "aif", "flac", "mp3", "ogg", "sf2", "sf3"];
    let ending = Path::new(name).extension().and_then(OsStr::to_str).unwrap_or_default();
    if sound.contains(&ending.to_ascii_lowercase().as_str()) {
        return vec![format!("{name}: a sound file: expected none in the project")];
    }
    Vec::new()
}

fn judge(name: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    let rust = name.ends_with(".rs");
    let lines = text.lines().count();
    if rust && lines > MAX_LINES && !MAY_BE_LONGER.iter().any(|(longer, _)| *longer == name) {
        findings.push(format!("{name}: {lines} lines: expected at most {MAX_LINES}"));
    }
    if name.ends_with("/mod.rs") {
        findings.push(format!("{name}: expected `foo.rs` beside `foo/`, never `mod.rs`"));
    }
    for (number, line) in text.lines().enumerate() {
        let place = || format!("{name}:{}", number + 1);
        let comment = line.trim_start();
        if rust
            && DOC_COMMENTS.iter().any(|opening| {
                comment
                    .strip_prefix(opening)
                    .is_some_and(|rest| rest.trim_start().starts_with("```"))
            })
        {
            findings.push(format!("{}: a test in a comment, which nothing runs", place()));
        }
        if name != LOCK {
            for (parts, why) in BANNED {
                let banned = parts.concat();
                if line.contains(&banned) {
                    findings.push(format!("{}: `{banned}`: {why}", place()));
                }
            }
        }
        if rust && name.starts_with("plugin/engine/src/") {
            for banned in ENGINE_BANNED {
                if line.contains(banned) {
                    findings.push(format!(
                        "{}: `{banned}`: the engine knows no file, thread, clock or network",
                        place()
                    ));
                }
            }
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_rule_finds_what_it_is_for() {
        assert!(judge("a.rs", "fn main() {}\n").is_empty());
        assert_eq!(judge("a.rs", &"\n".repeat(MAX_LINES + 1)).len(), 1);
        assert!(judge("a.txt", &"\n".repeat(MAX_LINES + 1)).is_empty());
        assert_eq!(judge("a/mod.rs", "").len(), 1);
        for (parts, _) in BANNED {
            assert_eq!(judge("a.md", &parts.concat()).len(), 1, "{parts:?}");
        }
        assert_eq!(judge("a.rs", "    /// ```\n    /// let x = 1;\n").len(), 1);
        assert_eq!(judge("plugin/engine/src/a.rs", "use std::time::Instant;").len(), 1);
        assert!(judge("plugin/cli/src/a.rs", "use std::time::Instant;").is_empty());
        assert_eq!(judge_binary("tests/kick.WAV").len(), 1);
        assert!(judge_binary("docs/editor.png").is_empty());
    }
}

//! Rules for what people read: the sentences of screens, reports, help and errors, and the documents.
//!
//! A few words read as translated, or as an idiom of our own. What a mix engineer would say instead
//! is named with each finding.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::finding::Finding;

/// Rust files whose string literals people read.
const SAID: &[&str] = &[
    "plugin/report/src/words/",
    "plugin/report/src/words.rs",
    "plugin/src/words/",
    "plugin/src/words.rs",
    "plugin/files/src/error.rs",
    "plugin/cli/src/",
];

/// Rust files whose doc comments are the help of a command, too.
const HELP: &[&str] = &["plugin/cli/src/cli", "xtask/src/main.rs"];

/// Documents that people read. The lab notes keep the words of the day they were written.
const DOCUMENTS: &[&str] = &["README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/"];
const LAB: &str = "docs/lab/";

/// Words that are not wanted, each a run of whole words, and what to say instead.
const UNWANTED: &[(&[&str], &str)] = &[
    (&["told"], "estimated from, shown, reported"),
    (&["tells"], "shows, reports"),
    (&["stands"], "is (X dB above)"),
    (&["stand"], "is (X dB above)"),
    (&["rests"], "the limiter stops reducing; the part is silent"),
    (&["beside"], "against, next to"),
    (&["ahead", "of", "the", "limiter"], "before the limiter"),
    (&["one", "in", "ten"], "10 %, or 90th percentile"),
    (&["nine", "in", "ten"], "90 %, or 10th percentile"),
    (&["9", "times", "in", "10"], "90 % range"),
    (&["8", "in", "10"], "10th to 90th percentile"),
    (&["tenth"], "10th percentile"),
    (&["programme"], "material, passage, audio"),
    (&["stroke"], "hit, note; bar for what is drawn"),
    (&["strokes"], "hits, notes; bars for what is drawn"),
];

/// Lines that may say *programme*: a definition of the standards that use the word.
const DEFINITIONS: &[&str] = &["BS.1770", "R 128", "EBU Tech"];

pub fn check(files: &[PathBuf]) -> Result<Vec<Finding>> {
    let mut findings = Vec::new();
    for path in files {
        let name = path.to_string_lossy().replace('\\', "/");
        let within = |list: &[&str]| list.iter().any(|start| name.starts_with(start));
        let rust = name.ends_with(".rs");
        let document = name.ends_with(".md") && within(DOCUMENTS) && !name.starts_with(LAB);
        if !(document || rust && (within(SAID) || within(HELP))) {
            continue;
        }
        let text = read(path)?;
        let lines = if document { prose(&text) } else { said(&text, within(HELP)) };
        findings.extend(judge(&name, &lines));
    }
    Ok(findings)
}

fn read(path: &Path) -> Result<String> {
    fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))
}

/// The lines of a document outside of its code, each with its number.
fn prose(text: &str) -> Vec<(usize, String)> {
    let mut code = false;
    let mut lines = Vec::new();
    for (number, line) in text.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            code = !code;
        } else if !code {
            // Inline code is a name, no word.
            let words: String = line.split('`').step_by(2).collect::<Vec<_>>().join(" ` ");
            lines.push((number + 1, words));
        }
    }
    lines
}

/// The string literals of a Rust file, and its doc comments if `help`, each with its line; up to the
/// tests.
fn said(text: &str, help: bool) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut literal: Option<String> = None;
    for (number, line) in text.lines().enumerate() {
        if line.starts_with("#[cfg(test)]") {
            break;
        }
        let mut line = line.trim_start();
        if literal.is_none() && line.starts_with("//") {
            if help && let Some(words) = line.strip_prefix("///") {
                found.push((number + 1, words.to_owned()));
            }
            continue;
        }
        let mut comment = false;
        while !line.is_empty() && !comment {
            match &mut literal {
                None => match line.find(['"', '/', '\'']) {
                    Some(at) if line[at..].starts_with('"') => {
                        literal = Some(String::new());
                        line = &line[at + 1..];
                    }
                    Some(at) if line[at..].starts_with("//") => comment = true,
                    // A quotation mark as a character opens nothing.
                    Some(at) if line[at..].starts_with("'\"'") => line = &line[at + 3..],
                    Some(at) => line = &line[at + 1..],
                    None => line = "",
                },
                Some(words) => match line.find(['"', '\\']) {
                    Some(at) if line[at..].starts_with('"') => {
                        words.push_str(&line[..at]);
                        let words = literal.take().map(|words| (number + 1, without_names(&words)));
                        found.extend(words);
                        line = &line[at + 1..];
                    }
                    Some(at) => {
                        words.push_str(&line[..at]);
                        words.push(' ');
                        let escaped = line[at + 1..].chars().next().map_or(0, char::len_utf8);
                        line = &line[at + 1 + escaped..];
                    }
                    None => {
                        words.push_str(line);
                        words.push(' ');
                        line = "";
                    }
                },
            }
        }
    }
    found
}

/// A format string without the names of what goes in.
fn without_names(format: &str) -> String {
    let mut parts = format.split('{');
    let mut text = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        text.push_str(part.split_once('}').map_or(part, |(_, rest)| rest));
    }
    text
}

fn judge(name: &str, lines: &[(usize, String)]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (number, line) in lines {
        let lower = line.to_lowercase();
        // A hyphen joins: a stand-alone program stands for nothing.
        let words: Vec<&str> = lower
            .split(|c: char| !c.is_alphanumeric() && c != '-' && c != '_')
            .filter(|word| !word.is_empty())
            .collect();
        for (unwanted, better) in UNWANTED {
            let places = words.windows(unwanted.len()).enumerate();
            let found = places.filter(|(_, words)| words == unwanted).any(|(at, _)| {
                let outstanding = words.get(at + 1) == Some(&"out");
                !(unwanted[0].starts_with("stand") && outstanding)
            });
            let defined = unwanted == &["programme"]
                && DEFINITIONS.iter().any(|source| line.contains(source));
            if found && !defined {
                findings
                    .push(format!("{name}:{number}: \"{}\": rather {better}", unwanted.join(" ")));
            }
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_planted_word_is_found_in_a_sentence_and_in_a_document() {
        for (unwanted, _) in UNWANTED {
            let words = unwanted.join(" ");
            let rust = format!("const A: &str = \"Hits are {words} now.\";\n");
            assert_eq!(judge("a.rs", &said(&rust, false)).len(), 1, "{rust}");
            let wrapped = unwanted.join(" \\\n    ");
            let wrapped = format!("const B: &str = \"Hits are \\\n    {wrapped} now.\";\n");
            assert_eq!(judge("a.rs", &said(&wrapped, false)).len(), 1, "{wrapped}");
            let document = format!("Hits are {words} now.\n");
            assert_eq!(judge("a.md", &prose(&document)).len(), 1, "{document}");
        }
    }

    #[test]
    fn what_nobody_reads_may_say_anything() {
        let rust = "// told beside\nlet told = stands('\"', x); // rests\n#[cfg(test)]\nlet a = \"told\";\n";
        assert!(said(rust, false).is_empty(), "{:?}", said(rust, false));
        assert_eq!(said("/// Told.\nstruct A;\n", true).len(), 1);
        let document = "```\ntold\n```\n`beside` stands out of a stand-alone mix\n";
        assert!(judge("a.md", &prose(document)).is_empty());
        let definition = "Loudness of a programme (ITU-R BS.1770-5).\n";
        assert!(judge("a.md", &prose(definition)).is_empty());
    }
}

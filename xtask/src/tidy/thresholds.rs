//! Every threshold of the engine says where it comes from.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use super::finding::Finding;

/// The file, or the folder beside it, that holds the engine's thresholds.
const HOME: &str = "plugin/engine/src/thresholds";

/// Marks of a source: a standard, a publication's year, a stated lack of one, or our own choice
/// with its reason.
const MARKS: &[&str] =
    &["Ours", "common practice, no source", "closed form", "BS.1770", "Tech 334", "R 128", "AES"];

pub fn check(files: &[PathBuf]) -> Result<Vec<Finding>> {
    let mut findings = Vec::new();
    let mut constants = 0;
    for path in files.iter().filter(|path| is_home(path)) {
        let text =
            fs::read_to_string(path).with_context(|| format!("cannot read {}", path.display()))?;
        let (count, found) = judge(&path.to_string_lossy(), &text);
        constants += count;
        findings.extend(found);
    }
    if constants == 0 {
        findings.push(format!("{HOME}.rs: no constant found: expected the engine's thresholds"));
    }
    Ok(findings)
}

fn is_home(path: &Path) -> bool {
    path == Path::new(HOME).with_extension("rs") || path.starts_with(HOME)
}

/// Number of constants, and those without a source.
fn judge(name: &str, text: &str) -> (usize, Vec<Finding>) {
    let mut count = 0;
    let mut findings = Vec::new();
    let mut doc = String::new();
    for (number, line) in text.lines().map(str::trim).enumerate() {
        if let Some(words) = line.strip_prefix("///") {
            doc.push_str(words);
        } else if !line.starts_with("#[") {
            let item = line
                .strip_prefix("pub const ")
                .or_else(|| line.strip_prefix("pub(crate) const "))
                .or_else(|| line.strip_prefix("const "))
                .filter(|item| !item.starts_with("fn "));
            if let Some(item) = item {
                count += 1;
                if !has_source(&doc) {
                    let constant = item.split(':').next().unwrap_or(item);
                    findings.push(format!(
                        "{name}:{}: {constant} names no source: expected a standard, a \
                         publication with its year, \"common practice, no source\" or \
                         \"Ours\" with a reason",
                        number + 1
                    ));
                }
            }
            doc.clear();
        }
    }
    (count, findings)
}

fn has_source(doc: &str) -> bool {
    MARKS.iter().any(|mark| doc.contains(mark))
        || doc.split(|c: char| !c.is_ascii_digit()).any(is_year)
}

fn is_year(digits: &str) -> bool {
    digits.len() == 4 && (digits.starts_with("19") || digits.starts_with("20"))
}

#[cfg(test)]
mod tests {
    use super::judge;

    #[test]
    fn a_constant_without_a_source_is_found() {
        let good = "/// Window, s. BS.1770-5.\npub const A: f64 = 0.4;\n\
                    /// Crossover, Hz (Someone\n/// 2017).\n#[allow(x)]\nconst B: f64 = 1.0;\n";
        assert_eq!(judge("t.rs", good), (2, Vec::new()));
        let bad =
            "/// Window, 2000 ms.\nconst A: f64 = 2.0;\n/// Window, s.\nconst B: f64 = 1.0;\n";
        let (count, findings) = judge("t.rs", bad);
        assert_eq!(count, 2);
        // The first passes for a year: the check is coarse, and says so here.
        assert_eq!(findings.len(), 1);
        assert!(findings[0].contains("B names no source"));
    }
}

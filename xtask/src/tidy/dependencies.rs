//! The engine stands on arithmetic alone: what it may depend on is listed here.

use std::collections::BTreeSet;
use std::process::Stdio;

use anyhow::{Context, Result, bail};

use super::finding::Finding;
use crate::workspace;

/// Crates that the engine may have below it, each with its reason. A new one needs a line here,
/// which is the moment to ask whether it brings a host, a window, a file or a lock.
const ENGINE_MAY_USE: &[(&str, &str)] = &[
    ("brunt-engine", "itself"),
    ("brunt-transforms", "spectra and alignment, compiled once for all of us"),
    ("realfft", "its transforms of real numbers"),
    ("rustfft", "realfft's transforms"),
    ("num-complex", "rustfft's numbers"),
    ("num-integer", "rustfft's numbers"),
    ("num-traits", "rustfft's numbers"),
    ("autocfg", "runs while num-traits builds, not after"),
    ("primal-check", "rustfft's prime lengths"),
    ("strength_reduce", "rustfft's divisions"),
    ("transpose", "rustfft's matrices"),
    ("wide", "channels and filters side by side in one instruction"),
    ("safe_arch", "wide's instructions"),
    ("bytemuck", "wide's conversions"),
];

pub fn check() -> Result<Vec<Finding>> {
    let output = workspace::cargo(["tree", "--package", "brunt-engine"])
        .args(["--edges", "normal,build", "--prefix", "none", "--format", "{p}"])
        .stderr(Stdio::inherit())
        .output()
        .context("cannot run cargo tree")?;
    if !output.status.success() {
        bail!("cargo tree: {}", output.status);
    }
    Ok(judge(&String::from_utf8_lossy(&output.stdout)))
}

fn judge(tree: &str) -> Vec<Finding> {
    let names: BTreeSet<_> = tree.lines().filter_map(|line| line.split(' ').next()).collect();
    names
        .into_iter()
        .filter(|name| !name.is_empty())
        .filter(|name| !ENGINE_MAY_USE.iter().any(|(allowed, _)| allowed == name))
        .map(|name| {
            format!(
                "plugin/engine/Cargo.toml: the engine depends on `{name}`: expected only crates \
                 that are listed with a reason in xtask/src/tidy/dependencies.rs"
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::judge;

    #[test]
    fn a_window_below_the_engine_is_found() {
        let clean = "brunt-engine v0.1.0 (/somewhere)\nrealfft v3.5.0\nrustfft v6.4.0\n";
        assert!(judge(clean).is_empty());
        assert_eq!(judge(&format!("{clean}egui v0.37.0\n")).len(), 1);
    }
}

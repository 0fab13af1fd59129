//! Where the report goes: the options, the question before a file is replaced, the writing.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

use brunt_report::report::Report;
use brunt_report::{hit_list, html};

use super::{Failure, print};
use crate::error::{Error, Fault, FileFault};
use crate::output::Target;

/// The options that name files to write.
#[derive(Debug, clap::Args)]
pub(super) struct Outputs {
    /// Write the report as JSON; - means standard output.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,

    /// Write the report as one HTML page.
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,

    /// Write the hits as CSV; - means standard output.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,

    /// Replace existing files without asking.
    #[arg(long)]
    force: bool,
}

/// Places found fit to write to, each with what goes there.
#[derive(Debug)]
pub(super) struct Plan(Vec<(Form, Place)>);

#[derive(Clone, Copy, Debug)]
enum Form {
    Json,
    Html,
    Csv,
}

#[derive(Debug)]
enum Place {
    StandardOutput,
    File(Target),
}

impl Outputs {
    /// Checks every place before any work is done, and asks about files that are there.
    pub(super) fn plan(&self, inputs: &[&Path]) -> Result<Plan, Failure> {
        let wanted = [(Form::Json, &self.json), (Form::Html, &self.html), (Form::Csv, &self.csv)];
        let mut plan: Vec<(Form, Place)> = Vec::new();
        for (form, path) in wanted {
            let Some(path) = path else { continue };
            let twice = || Failure::from(Fault::Twice.of(path));
            let place = if path.as_path() == Path::new("-") {
                if plan.iter().any(|(_, place)| matches!(place, Place::StandardOutput)) {
                    return Err(twice());
                }
                Place::StandardOutput
            } else {
                let target = self.target(path, inputs)?;
                let same = |place: &Place| matches!(place, Place::File(t) if t.same_as(&target));
                if plan.iter().any(|(_, place)| same(place)) {
                    return Err(twice());
                }
                Place::File(target)
            };
            plan.push((form, place));
        }
        Ok(Plan(plan))
    }

    fn target(&self, path: &Path, inputs: &[&Path]) -> Result<Target, Error> {
        let check = |force| {
            let mut target = Err(Fault::from(FileFault::Missing).of(path));
            for input in inputs {
                target = Ok(Target::check(path, input, force)?);
            }
            target
        };
        match check(self.force) {
            Err(Error { fault: Fault::Exists, .. }) if may_replace(path) => check(true),
            other => other,
        }
    }
}

impl Plan {
    /// Whether standard output is taken.
    pub(super) fn prints(&self) -> bool {
        self.0.iter().any(|(_, place)| matches!(place, Place::StandardOutput))
    }

    /// Writes everything, and gives the files written as the user named them. All texts are made
    /// before the first is written.
    pub(super) fn write(&self, report: &Report) -> Result<Vec<PathBuf>, Failure> {
        let texts: Vec<String> = self
            .0
            .iter()
            .map(|(form, _)| match form {
                Form::Json => Ok(report.to_json()?),
                Form::Html => Ok(html::page(report)),
                Form::Csv => Ok(hit_list::to_csv(&report.hits)?),
            })
            .collect::<Result<_, Failure>>()?;
        let mut written = Vec::new();
        for ((_, place), text) in self.0.iter().zip(&texts) {
            match place {
                Place::File(target) => {
                    target.write(text)?;
                    written.push(target.path().to_owned());
                }
                Place::StandardOutput => print(text, &mut io::stdout().lock())?,
            }
        }
        Ok(written)
    }
}

/// Asks whether a file may be replaced, where somebody is there to answer.
fn may_replace(path: &Path) -> bool {
    if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
        return false;
    }
    let mut out = anstream::stderr();
    let name: String =
        path.to_string_lossy().chars().map(|c| if c.is_control() { '?' } else { c }).collect();
    let asked = write!(out, "{name} already exists. Replace it? [y/N] ").and_then(|()| out.flush());
    let mut answer = String::new();
    let heard = asked.and_then(|()| io::stdin().lock().read_line(&mut answer));
    heard.is_ok() && matches!(answer.trim().to_lowercase().as_str(), "y" | "yes")
}

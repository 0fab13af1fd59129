//! Where the report goes: the options, the question before a file is replaced, the writing.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

use brunt_report::edits::{to_csv, to_midi};
use brunt_report::report::{Report, Tempo};
use brunt_report::{hit_list, html};

use super::failure::{Failure, print_bytes};
use crate::error::{Error, Fault};
use crate::output::Target;

/// Slowest and fastest tempo that is taken, beats a minute. Ours: a bar in 2 s of 1, and what a grid of
/// sixteenths at 250 needs.
const MIN_BPM: f64 = 20.0;
const MAX_BPM: f64 = 1000.0;

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

    #[command(flatten)]
    edits: Edits,

    /// Replace existing files without asking.
    #[arg(long)]
    force: bool,
}

/// The options of the notes to move.
#[derive(Debug, clap::Args)]
pub(super) struct Edits {
    /// Write the notes to move; may be repeated.
    ///
    /// FILE.csv lists them all: part, time, bar, ms to move, cost.
    ///
    /// FILE.mid has the costliest 200 as markers, with a tempo map.
    #[arg(long, value_name = "FILE", requires = "part")]
    edits: Vec<PathBuf>,

    /// Song tempo in BPM, for the bars in --edits.
    ///
    /// Bar 1 starts with the file. Without it, bars stay empty.
    #[arg(long, value_name = "BPM", requires = "edits", value_parser = bpm)]
    bpm: Option<f64>,

    /// Beats in a bar, 1 to 32.
    #[arg(long, value_name = "N", requires = "bpm", default_value_t = 4,
        value_parser = clap::value_parser!(u32).range(1..=32))]
    beats_per_bar: u32,
}

/// Places found fit to write to, each with what goes there.
#[derive(Debug)]
pub(super) struct Plan {
    places: Vec<(Form, Place)>,
    tempo: Option<Tempo>,
}

#[derive(Clone, Copy, Debug)]
enum Form {
    Json,
    Html,
    Csv,
    Edits,
    Midi,
}

#[derive(Debug)]
enum Place {
    StandardOutput,
    File(Target),
}

impl Outputs {
    /// Checks every place before any work is done, and asks about files that are there.
    pub(super) fn plan(&self, inputs: &[&Path]) -> Result<Plan, Failure> {
        let one = |form, path: &Option<PathBuf>| path.clone().map(|path| (form, path));
        let mut wanted: Vec<(Form, PathBuf)> =
            [one(Form::Json, &self.json), one(Form::Html, &self.html), one(Form::Csv, &self.csv)]
                .into_iter()
                .flatten()
                .collect();
        wanted.extend(self.edits.wanted()?);
        plan(&wanted, inputs, self.force, self.tempo())
    }

    /// The tempo that was given.
    pub(super) fn tempo(&self) -> Option<Tempo> {
        self.edits.tempo()
    }

    /// Whether a file of edits is asked for.
    pub(super) fn wants_edits(&self) -> bool {
        !self.edits.edits.is_empty()
    }
}

impl Edits {
    /// Checks the places of the edits alone.
    pub(super) fn plan(&self, inputs: &[&Path], force: bool) -> Result<Plan, Failure> {
        plan(&self.wanted()?, inputs, force, self.tempo())
    }

    /// The tempo that was given.
    pub(super) fn tempo(&self) -> Option<Tempo> {
        self.bpm.map(|bpm| Tempo { bpm, beats_a_bar: self.beats_per_bar })
    }

    fn wanted(&self) -> Result<Vec<(Form, PathBuf)>, Failure> {
        self.edits.iter().map(|path| Ok((edits_form(path)?, path.clone()))).collect()
    }
}

fn plan(
    wanted: &[(Form, PathBuf)],
    inputs: &[&Path],
    force: bool,
    tempo: Option<Tempo>,
) -> Result<Plan, Failure> {
    let mut places: Vec<(Form, Place)> = Vec::new();
    for (form, path) in wanted {
        let form = *form;
        let twice = || Failure::from(Fault::Twice.of(path));
        let place = if path.as_path() == Path::new("-") {
            if places.iter().any(|(_, place)| matches!(place, Place::StandardOutput)) {
                return Err(twice());
            }
            Place::StandardOutput
        } else {
            let target = target(path, inputs, force)?;
            let same = |place: &Place| matches!(place, Place::File(t) if t.same_as(&target));
            if places.iter().any(|(_, place)| same(place)) {
                return Err(twice());
            }
            Place::File(target)
        };
        places.push((form, place));
    }
    Ok(Plan { places, tempo })
}

fn target(path: &Path, inputs: &[&Path], force: bool) -> Result<Target, Error> {
    let check = |force| Target::check_all(path, inputs.iter().copied(), force);
    match check(force) {
        Err(Error { fault: Fault::Exists, .. }) if may_replace(path) => check(true),
        other => other,
    }
}

impl Plan {
    /// Whether standard output is taken.
    pub(super) fn prints(&self) -> bool {
        self.places.iter().any(|(_, place)| matches!(place, Place::StandardOutput))
    }

    /// Writes everything, and gives the files written as the user named them. All texts are made
    /// before the first is written.
    pub(super) fn write(&self, report: &Report) -> Result<Vec<PathBuf>, Failure> {
        let edits = report.timing.as_ref().map_or(&[][..], |timing| &timing.edits);
        let texts: Vec<Vec<u8>> = self
            .places
            .iter()
            .map(|(form, _)| match form {
                Form::Json => Ok(report.to_json()?.into_bytes()),
                Form::Html => Ok(html::page(report).into_bytes()),
                Form::Csv => Ok(hit_list::to_csv(&report.hits)?.into_bytes()),
                Form::Edits => Ok(to_csv(edits)?.into_bytes()),
                Form::Midi => to_midi(edits, self.tempo.as_ref()).map_err(Failure::Print),
            })
            .collect::<Result<_, Failure>>()?;
        let mut written = Vec::new();
        for ((_, place), text) in self.places.iter().zip(&texts) {
            match place {
                Place::File(target) => {
                    target.write(text)?;
                    written.push(target.path().to_owned());
                }
                Place::StandardOutput => print_bytes(text, &mut io::stdout().lock())?,
            }
        }
        Ok(written)
    }
}

/// What goes into a file of edits, by its name's end; standard output takes CSV.
fn edits_form(path: &Path) -> Result<Form, Failure> {
    let end = path.extension().map(|end| end.to_string_lossy().to_lowercase());
    match end.as_deref() {
        Some("csv") => Ok(Form::Edits),
        Some("mid" | "midi") => Ok(Form::Midi),
        None if path == Path::new("-") => Ok(Form::Edits),
        _ => Err(Fault::EditsForm.of(path).into()),
    }
}

/// A tempo, beats a minute.
fn bpm(text: &str) -> Result<f64, String> {
    let bpm: f64 = text.parse().map_err(|_| "expected a number of beats a minute".to_owned())?;
    if (MIN_BPM..=MAX_BPM).contains(&bpm) {
        Ok(bpm)
    } else {
        Err(format!("{bpm} beats a minute; expected {MIN_BPM:.0} to {MAX_BPM:.0}"))
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

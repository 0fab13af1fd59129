//! `brunt takes`: which take of a riff has more attack.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::failure::{Failure, print};
use crate::output::Target;
use crate::takes::{render, takes};

/// Compare takes of one riff: which has more attack, and by how much.
///
/// For guitars at different gains, at any level.
///
/// Exit status: 0 compared; 2 bad input.
#[derive(Debug, clap::Args)]
pub(super) struct TakesArgs {
    /// The takes, two or more: WAV, AIFF, FLAC, MP3 or Ogg Vorbis.
    #[arg(required = true, num_args = 2.., value_name = "TAKE")]
    takes: Vec<PathBuf>,

    /// Write the comparison as JSON; - means standard output.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,

    /// Replace an existing file.
    #[arg(long)]
    force: bool,
}

pub(super) fn run(args: &TakesArgs) -> Result<ExitCode, Failure> {
    let inputs = args.takes.iter().map(PathBuf::as_path);
    let path = args.json.as_deref().filter(|path| *path != Path::new("-"));
    let target = path.map(|path| Target::check_all(path, inputs, args.force)).transpose()?;
    let report = takes(&args.takes)?;
    if let Some(target) = &target {
        target.write(&report.to_json()?)?;
    }
    let text =
        if args.json.is_some() && target.is_none() { report.to_json()? } else { render(&report) };
    print(&text, &mut anstream::stdout().lock())?;
    Ok(ExitCode::SUCCESS)
}

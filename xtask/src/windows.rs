//! `cargo xtask windows`: plug-ins and program for Windows, built here and run under wine.

pub mod build;
pub mod checks;
mod growth;
pub mod wine;

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, Result, ensure};

use crate::bundle::Build;
use crate::report;
use crate::setup::{self, Group};
use crate::workspace::{self, called_from};
use build::TARGET;
use wine::Wine;

/// Options of the command.
#[derive(Clone, Debug, clap::Args)]
pub struct Arguments {
    /// The public CLAP validator, built for Windows; without it that row is left out
    #[arg(long, value_name = "EXE")]
    validator: Option<PathBuf>,
    /// Build with full optimisation, as for real use
    #[arg(long)]
    release: bool,
}

/// Builds, bundles, and runs every check under wine; prints a table.
pub fn run(arguments: &Arguments) -> Result<ExitCode> {
    println!("== Set-up");
    setup::prepare(&[Group::Windows])?;
    build::prepare()?;
    let chosen = Build { release: arguments.release, target: Some(TARGET) };
    println!("== Building for {TARGET}");
    let bundles = build::built(&chosen)?;
    let place = workspace::target_dir()?.join("windows");
    std::fs::create_dir_all(&place)
        .with_context(|| format!("cannot create {}", place.display()))?;
    println!("== A Windows to run it in");
    let wine = Wine::fresh(&place)?;
    let validator = match &arguments.validator {
        Some(path) => {
            let path = called_from()?.join(path);
            ensure!(path.is_file(), "--validator {}: expected a program", path.display());
            Some(path)
        }
        None => None,
    };
    let rows = checks::rows(&wine, &bundles, arguments.release, validator.as_deref(), &place)?;
    println!("== Windows, under wine");
    Ok(report::print(&rows))
}

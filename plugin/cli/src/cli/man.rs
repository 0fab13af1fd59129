//! `brunt man`: the manual pages, made from the options themselves.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use brunt_files::write::Unnamed;
use clap::Command;
use clap_mangen::Man;

use super::failure::{EXIT_INPUT, Failure, print};

/// Print the manual page of the program or of a command (roff).
///
/// brunt man check | man -l -
#[derive(Debug, clap::Args)]
pub(super) struct ManArgs {
    /// check, history, takes or listen. If omitted, the program.
    command: Option<String>,

    /// Write all pages into this folder instead.
    #[arg(long, value_name = "DIR", conflicts_with = "command")]
    out: Option<PathBuf>,
}

/// Commands about the program itself, without a page of their own.
const WITHOUT: [&str; 2] = ["man", "completions"];

/// Prints the page of `program` or of a command of it.
pub(super) fn run(args: &ManArgs, program: &Command) -> Result<ExitCode, Failure> {
    if let Some(folder) = &args.out {
        write_all(program, folder).map_err(|e| Failure::Pages(folder.clone(), e))?;
        return Ok(ExitCode::SUCCESS);
    }
    let mut page = Vec::new();
    match page_of(program, args.command.as_deref(), &mut page) {
        Some(written) => written.map_err(Failure::Print)?,
        None => {
            let name = args.command.as_deref().unwrap_or_default();
            let names: Vec<_> = paged(program).map(Command::get_name).collect();
            // Nobody is left to tell where even this cannot be written.
            let _ = io::Write::write_fmt(
                &mut anstream::stderr(),
                format_args!("brunt: {name}: no such command; there are {}\n", names.join(", ")),
            );
            return Ok(ExitCode::from(EXIT_INPUT));
        }
    }
    print(&String::from_utf8_lossy(&page), &mut io::stdout().lock())?;
    Ok(ExitCode::SUCCESS)
}

/// Writes brunt.1, brunt-check.1 and so on into a folder, which is made where it is missing.
fn write_all(program: &Command, folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    let names = paged(program).map(|command| Some(command.get_name()));
    for name in names.chain([None]) {
        let mut page = Vec::new();
        if let Some(written) = page_of(program, name, &mut page) {
            written?;
        }
        let file = name.map_or_else(|| "brunt.1".to_owned(), |name| format!("brunt-{name}.1"));
        let file = folder.join(file);
        Unnamed::filled(&file, page)?.replace(&file)?;
    }
    Ok(())
}

/// The commands that have a page.
fn paged(program: &Command) -> impl Iterator<Item = &Command> {
    program.get_subcommands().filter(|c| !WITHOUT.contains(&c.get_name()))
}

/// Writes the page of the program or of a command; `None` where there is no such command.
fn page_of(program: &Command, name: Option<&str>, to: &mut Vec<u8>) -> Option<io::Result<()>> {
    let mut program = program.clone();
    // Typed as `brunt check`, and kept as brunt-check(1).
    program.build();
    let page = match name {
        None => program,
        Some(name) => paged(&program).find(|c| c.get_name() == name)?.clone(),
    };
    Some(Man::new(page.version(env!("CARGO_PKG_VERSION"))).manual("Brunt").render(to))
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::super::Cli;
    use super::*;

    fn page(command: Option<&str>) -> String {
        let mut text = Vec::new();
        page_of(&Cli::command(), command, &mut text).expect("a page").expect("written");
        String::from_utf8(text).expect("text").replace('\\', "")
    }

    #[test]
    fn every_option_is_on_its_page() {
        assert!(page(None).contains("brunt-check(1)"));
        for command in paged(&Cli::command()) {
            let text = page(Some(command.get_name()));
            assert!(text.contains("brunt check") || command.get_name() != "check", "{text}");
            let mut options = 0;
            for argument in command.get_arguments() {
                let name = match argument.get_long() {
                    Some(long) => format!("--{long}"),
                    None => argument.get_id().as_str().to_uppercase(),
                };
                let shown = argument.get_value_names().map(|names| names[0].to_string());
                assert!(
                    text.contains(&name) || shown.is_some_and(|shown| text.contains(&shown)),
                    "{name} on the page of {}",
                    command.get_name()
                );
                options += 1;
            }
            assert!(options > 1, "{}", command.get_name());
        }
    }

    #[test]
    fn all_pages_can_be_written_at_once() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("man");
        write_all(&Cli::command(), &folder).expect("written");
        for name in ["brunt.1", "brunt-check.1", "brunt-history.1", "brunt-takes.1"] {
            let text = fs::read_to_string(folder.join(name)).expect("is there");
            assert!(text.contains(".TH"), "{name}: {text}");
        }
        assert_eq!(
            fs::read_dir(&folder).expect("a folder").count(),
            paged(&Cli::command()).count() + 1
        );
    }

    #[test]
    fn a_command_that_is_none_has_no_page() {
        assert!(page_of(&Cli::command(), Some("nothing"), &mut Vec::new()).is_none());
    }
}

//! Tables of what was tried.

use std::process::ExitCode;

use anyhow::Result;

/// What became of one step.
pub struct Row {
    /// Step, and where.
    pub what: &'static str,
    /// What was seen, or why the step could not be taken; the error where it failed.
    pub seen: Result<Seen>,
}

/// The result of a step that did not fail.
pub enum Seen {
    /// It went well, with this to tell.
    Well(String),
    /// This machine cannot take the step.
    NotHere(String),
}

/// Prints a line a row; fails where one has failed.
pub fn print(rows: &[Row]) -> ExitCode {
    let mut failed = false;
    for row in rows {
        let (verdict, text) = match &row.seen {
            Ok(Seen::Well(text)) => ("ok", text.clone()),
            Ok(Seen::NotHere(text)) => ("not here", text.clone()),
            Err(error) => ("FAILED", format!("{error:#}")),
        };
        failed |= row.seen.is_err();
        println!("{:<34} {verdict:<9} {text}", row.what);
    }
    if failed { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

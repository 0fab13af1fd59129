//! What instances that come and go leave behind in a program for Windows.
//!
//! This wine counts no handles and no memory for its programs. So they are counted from outside, by this
//! system's lists: every handle of a file or thread is an open file of wine's server.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::process::Stdio;
use std::thread::sleep;
use std::time::Duration;

use anyhow::{Context, Result, ensure};

use super::build;
use super::wine::{Wine, known};
use crate::bundle::Bundles;
use crate::report::Seen;
use crate::workspace::Running;

/// Growth of memory that is let pass, bytes: as on Linux (`tests/hosts/hygiene.rs`). Ours.
const SLACK: u64 = 8 << 20;
/// Counts until two in turn are the same: what is being closed is listed for a moment longer.
const COUNTS: usize = 50;
const BETWEEN: Duration = Duration::from_millis(100);

/// What a program holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Held {
    /// Files that are open at wine's server, those of its other programs included.
    at_server: usize,
    /// Files that it has open itself.
    files: usize,
    threads: usize,
    /// Memory in use, bytes, to a whole megabyte: it moves by a page or two at rest.
    megabytes: u64,
}

/// Opens and closes instances in turn, and looks whether anything grows; and that it is seen where
/// something does.
pub fn seen(wine: &Wine, bundles: &Bundles) -> Result<Seen> {
    let (first, last) = counted(wine, bundles, &[])?;
    let grown = grown(&first.1, &last.1);
    let seen = format!("after {} {}; after {} {}", first.0, said(&first.1), last.0, said(&last.1));
    ensure!(grown.is_empty(), "{seen}: more {}", grown.join(" and "));
    let (first, last) = counted(wine, bundles, &["control"])?;
    let planted = self::grown(&first.1, &last.1);
    ensure!(
        planted.contains(&"files at the server") && planted.contains(&"memory"),
        "where a file and memory are kept in each turn, {} and {}: expected growth of both",
        said(&first.1),
        said(&last.1)
    );
    Ok(Seen::Well(format!(
        "{seen}; where each turn keeps a file and 200 kB: {} and {} files at the server, {} and {} MB",
        first.1.at_server, last.1.at_server, first.1.megabytes, last.1.megabytes
    )))
}

fn said(held: &Held) -> String {
    let Held { at_server, files, threads, megabytes } = held;
    format!(
        "{at_server} files at wine's server, {files} of its own, {threads} threads, {megabytes} MB"
    )
}

/// What there is more of.
fn grown(first: &Held, last: &Held) -> Vec<&'static str> {
    let mut more = Vec::new();
    for (what, grows) in [
        ("files at the server", last.at_server > first.at_server),
        ("files", last.files > first.files),
        ("threads", last.threads > first.threads),
        ("memory", last.megabytes > first.megabytes + (SLACK >> 20)),
    ] {
        if grows {
            more.push(what);
        }
    }
    more
}

/// What the program holds after its first turns and after all of them, and how many turns those are.
fn counted(
    wine: &Wine,
    bundles: &Bundles,
    more: &[&str],
) -> Result<((usize, Held), (usize, Held))> {
    const PROGRAM: &str = "turns.exe";
    let mut command = wine.program(&build::program("turns")?);
    command.arg(known(&bundles.clap)).args(more);
    let child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn();
    let mut child = Running(child.with_context(|| format!("{PROGRAM}: cannot start"))?);
    let mut answer = child.0.stdin.take().context("a pipe")?;
    let mut lines = BufReader::new(child.0.stdout.take().context("a pipe")?).lines();
    let mut next = || -> Result<(usize, Held)> {
        let line = lines.next().with_context(|| format!("{PROGRAM} ended early"))??;
        let turns = line.trim().parse().with_context(|| format!("{PROGRAM}: {line:?}"))?;
        let held = settled(wine, PROGRAM)?;
        writeln!(answer).with_context(|| format!("{PROGRAM} does not read"))?;
        Ok((turns, held))
    };
    let counts = (next()?, next()?);
    let status = child.0.wait()?;
    ensure!(status.success(), "{PROGRAM}: {status}");
    Ok(counts)
}

/// What a program holds, once that is the same for a moment.
fn settled(wine: &Wine, program: &str) -> Result<Held> {
    let mut last = held(wine, program)?;
    for _ in 0..COUNTS {
        sleep(BETWEEN);
        let now = held(wine, program)?;
        if now == last {
            break;
        }
        last = now;
    }
    Ok(last)
}

fn held(wine: &Wine, program: &str) -> Result<Held> {
    let one = |name: &str| -> Result<String> {
        let found = wine.running(name)?;
        ensure!(found.len() == 1, "{name} runs as {found:?}: expected one");
        Ok(format!("/proc/{}", found[0]))
    };
    let (own, server) = (one(program)?, one("wineserver")?);
    let count = |folder: String| -> Result<usize> {
        Ok(fs::read_dir(&folder).with_context(|| format!("cannot list {folder}"))?.count())
    };
    let pages = fs::read_to_string(format!("{own}/statm"))?;
    let pages = pages.split(' ').nth(1).and_then(|pages| pages.parse::<u64>().ok());
    Ok(Held {
        at_server: count(format!("{server}/fd"))?,
        files: count(format!("{own}/fd"))?,
        threads: count(format!("{own}/task"))?,
        megabytes: (pages.context("expected numbers of pages")? * 4096) >> 20,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn growth_of_each_kind_is_seen() {
        let first = Held { at_server: 166, files: 12, threads: 1, megabytes: 16 };
        assert!(grown(&first, &Held { megabytes: 24, ..first }).is_empty());
        for (more, last) in [
            ("files at the server", Held { at_server: 167, ..first }),
            ("files", Held { files: 13, ..first }),
            ("threads", Held { threads: 2, ..first }),
            ("memory", Held { megabytes: 25, ..first }),
        ] {
            assert_eq!(grown(&first, &last), [more]);
        }
    }
}

//! Ardour 7: scans the VST3, puts it on a bus, rolls, saves, and opens the session again.

use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, SystemTime};

use anyhow::{Context, Result, bail};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde_json::Value;

use crate::report::{Row, Seen};

/// Ardour's own program folder in Debian.
const FOLDER: &str = "/usr/lib/ardour7";

pub fn rows(vst3: &Path, place: &Path) -> Vec<Row> {
    let host = Ardour::new(place.join("ardour"), place.join("session"));
    let mut rows = vec![Row { what: "ardour", seen: super::version::version("ardour7-lua") }];
    let mut step = |what, seen: Result<Seen>| {
        let go_on = seen.is_ok();
        rows.push(Row { what, seen });
        go_on
    };
    let _ = step("ardour: scan (VST3)", host.scan(vst3))
        && step("ardour: insert, roll, save", host.lua("insert.lua", include_str!("insert.lua")))
        && step("ardour: state in the session", host.state("brunt"))
        && step("ardour: reopen, save again", host.lua("reopen.lua", include_str!("reopen.lua")))
        && step("ardour: state in the session again", host.state("again"));
    rows
}

pub(super) struct Ardour {
    /// A home of its own: the user's settings and plug-ins stay out of it.
    home: PathBuf,
    session: PathBuf,
}

impl Ardour {
    /// With a home and a session of its own.
    pub(super) fn new(home: PathBuf, session: PathBuf) -> Self {
        Self { home, session }
    }

    /// Gives this host's user a preset for exports.
    pub(super) fn export_preset(&self, name: &str, text: &str) -> Result<()> {
        let folder = self.home.join(".config/ardour7/export");
        fs::create_dir_all(&folder)
            .with_context(|| format!("cannot create {}", folder.display()))?;
        fs::write(folder.join(name), text).with_context(|| format!("cannot write {name}"))
    }

    /// The session's folder.
    pub(super) fn session(&self) -> &Path {
        &self.session
    }

    fn command(&self, program: &str) -> Command {
        let mut command = Command::new("timeout");
        command
            .args(["300", program])
            .env("HOME", &self.home)
            .env("XDG_CONFIG_HOME", self.home.join(".config"))
            .env("XDG_CACHE_HOME", self.home.join(".cache"))
            .env("NICE_LOG", self.home.join("plug-in.log"))
            .stdin(Stdio::null());
        command
    }

    /// The scanner is a program of its own, which the host trusts where its cache is newer than the
    /// plug-in.
    fn scan(&self, vst3: &Path) -> Result<Seen> {
        let copy = self.home.join(".vst3/Brunt.vst3");
        let library = Path::new("Contents/x86_64-linux/Brunt.so");
        let place = copy.join(library);
        fs::create_dir_all(place.parent().context("a library has a folder")?)?;
        fs::copy(vst3.join(library), &place)
            .with_context(|| format!("cannot copy {}", vst3.display()))?;
        fs::File::options()
            .write(true)
            .open(&place)?
            .set_modified(SystemTime::now() - Duration::from_secs(3600))?;
        let output = self
            .command(&format!("{FOLDER}/ardour-vst3-scanner"))
            .arg("-f")
            .arg(&copy)
            .env("LD_LIBRARY_PATH", FOLDER)
            .output()
            .context("ardour-vst3-scanner cannot start")?;
        let said = String::from_utf8_lossy(&output.stdout).into_owned()
            + &String::from_utf8_lossy(&output.stderr);
        if !output.status.success() || !said.contains("Found Plugin: Brunt") {
            bail!("{}: {}", output.status, said.trim());
        }
        Ok(Seen::Well("found".to_owned()))
    }

    fn lua(&self, name: &str, script: &str) -> Result<Seen> {
        self.lua_with(name, script, &[])
    }

    /// Runs a script on the session, with more arguments.
    pub(super) fn lua_with(&self, name: &str, script: &str, more: &[&str]) -> Result<Seen> {
        let file = self.home.join(name);
        fs::write(&file, script).with_context(|| format!("cannot write {}", file.display()))?;
        // Its output goes through a pipe, which a line at a time would not otherwise get through.
        let output = self
            .command("stdbuf")
            .args(["-oL", "ardour7-lua"])
            .arg(&file)
            .arg(&self.session)
            .args(more)
            .output()
            .context("ardour7-lua cannot start")?;
        let said = String::from_utf8_lossy(&output.stdout).into_owned()
            + &String::from_utf8_lossy(&output.stderr);
        let steps: Vec<_> = said.lines().filter_map(|line| line.strip_prefix("brunt: ")).collect();
        if !steps.last().is_some_and(|last| last.starts_with("saved")) {
            let error = said.lines().rev().find(|line| line.starts_with("Error"));
            bail!("{}: after \"{}\": {}", output.status, steps.join(", "), error.unwrap_or("-"));
        }
        Ok(Seen::Well(steps.join(", ")))
    }

    /// The state that stands in the session's file.
    fn state(&self, name: &str) -> Result<Seen> {
        let states = states(&self.session.join(format!("{name}.ardour")))?;
        let state = states.first().context("the session holds no state of a plug-in")?;
        let watch = state["params"]["watch"]["f32"].as_f64().unwrap_or_default();
        if (watch - 0.3).abs() > 1e-6 {
            bail!("\"Watch from\" is {watch}: expected 0.3");
        }
        let pass = state["fields"]["pass"].as_str().unwrap_or("null");
        let pass: Value = serde_json::from_str(pass).context("the pass is no JSON")?;
        let measured_s = pass["report"]["mix"]["duration_s"].as_f64();
        Ok(Seen::Well(match measured_s {
            Some(s) => format!("parameter kept, a pass of {s:.1} s"),
            None => bail!("the session holds no pass"),
        }))
    }
}

/// The states of all plug-ins in a session's file.
pub(super) fn states(file: &Path) -> Result<Vec<Value>> {
    let text =
        fs::read_to_string(file).with_context(|| format!("cannot read {}", file.display()))?;
    text.split("<chunk>")
        .skip(1)
        .map(|rest| {
            let (chunk, _) = rest.split_once("</chunk>").context("a state has no end")?;
            let (bytes, json) = decoded(chunk)?;
            serde_json::from_slice(&bytes[json]).context("no JSON")
        })
        .collect()
}

/// The bytes of a state, and where in them the plug-in's JSON is: the host puts a head of its own before it.
fn decoded(chunk: &str) -> Result<(Vec<u8>, Range<usize>)> {
    let chunk: String = chunk.chars().filter(|c| !c.is_whitespace()).collect();
    let bytes = BASE64_STANDARD.decode(chunk).context("the state is no base64")?;
    let start = bytes.windows(2).position(|two| two == b"{\"").context("no JSON")?;
    let end = bytes.iter().rposition(|byte| *byte == b'}').context("no JSON")?;
    Ok((bytes, start..end + 1))
}

/// A session's text with the states changed for which `change` gives another text of the same length.
/// Fails where it changes none.
pub(super) fn change_states(text: &str, change: impl Fn(&str) -> Option<String>) -> Result<String> {
    let mut changed = String::new();
    let mut rest = text;
    let mut count = 0;
    while let Some((before, after)) = rest.split_once("<chunk>") {
        let (chunk, behind) = after.split_once("</chunk>").context("a state has no end")?;
        let (mut bytes, json) = decoded(chunk)?;
        let other = change(std::str::from_utf8(&bytes[json.clone()]).context("no JSON")?);
        if let Some(other) = other {
            anyhow::ensure!(other.len() == json.len(), "a state of another length");
            bytes[json].copy_from_slice(other.as_bytes());
            count += 1;
        }
        changed.push_str(&format!("{before}<chunk>{}</chunk>", BASE64_STANDARD.encode(bytes)));
        rest = behind;
    }
    anyhow::ensure!(count > 0, "no state to change");
    Ok(changed + rest)
}

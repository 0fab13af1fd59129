//! A whole session in Qtractor: a part on each track and Brunt on it, Brunt on the main bus. Played by
//! JACK's transport, which Qtractor follows; saved, opened and saved again. What the mix has read is
//! compared with `brunt check --part` on the same files.

use std::io::Write;
use std::path::Path;
use std::process::Stdio;
use std::thread::sleep;
use std::time::Duration;

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use super::qtractor::{Host, end, escaped, pack, parts, states, unpack};
use super::song::{self, LENGTH_S, Part, ROLES};
use crate::report::{Row, Seen};

/// Sample rate of the song and of the server, Hz.
const RATE: u32 = 48_000;

/// Plays the session and compares; a row a step.
pub fn rows(host: &Host, place: &Path) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut step = |what, seen: Result<Seen>| rows.push(Row { what, seen });
    let what = "qtractor session: play, save";
    let played = song::parts(place).and_then(|parts| Ok((host.play(&parts)?, parts)));
    let (saved, parts) = match played {
        Ok(played) => played,
        Err(error) => {
            step(what, Err(error));
            return rows;
        }
    };
    step(what, Ok(Seen::Well(format!("{} tracks and a mix, {LENGTH_S} s", parts.len()))));
    let read = reading(&saved);
    match song::expected(&parts) {
        Err(error) => step("qtractor session: brunt check", Err(error)),
        Ok(expected) => {
            step("qtractor session: parts", song::compare_parts(&expected, &read, parts.len()));
            step("qtractor session: costs", song::compare_costs(&expected, &read));
        }
    }
    step("qtractor session: reopen, save", host.kept(&saved));
    rows
}

impl Host {
    /// Makes a session of the parts, plays it from its start to its end, and gives it as it is saved then.
    fn play(&self, song: &[Part]) -> Result<String> {
        let file = self.home().join("whole.qtr");
        // How a new instance's state looks, the plug-in itself says.
        let new = self.open_and_save(&file, &self.text(None, ""))?;
        let [_, state, _] = parts(&new)?;
        let mut state = unpack(state)?;
        state["fields"]["pass"] = "null".into();
        let mut tracks = String::new();
        for part in song {
            let role = state.pointer_mut("/params/role/string").context("no role in the state")?;
            *role = ROLES[part.role].into();
            tracks.push_str(
                &include_str!("track.qtr")
                    .replace("NAME", &escaped(&part.name))
                    .replace("FILE", &escaped(&part.file.display().to_string()))
                    .replace("LENGTH", &(LENGTH_S * RATE).to_string())
                    .replace("PLUGIN", &self.plugin(Some(&pack(&state)?))),
            );
        }
        let mut host = self.open(&file, &self.text(None, &tracks))?;
        // What has been saved has been opened.
        let opened = states(&self.save(&mut host, &file)?)?.len();
        ensure!(
            opened == song.len() + 1,
            "{opened} plug-ins are open: expected {}",
            song.len() + 1
        );
        self.transport("locate 0\nplay\n")?;
        sleep(Duration::from_secs(u64::from(LENGTH_S) + 2));
        self.transport("stop\n")?;
        // The mix reads the parts in the background.
        sleep(Duration::from_secs(8));
        let saved = self.save(&mut host, &file)?;
        end(host)?;
        Ok(saved)
    }

    /// Calls JACK's transport.
    fn transport(&self, calls: &str) -> Result<()> {
        let mut child = self
            .command("jack_transport")
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .context("jack_transport cannot start")?;
        let mut ask = child.stdin.take().context("no standard input")?;
        writeln!(ask, "{calls}quit").context("jack_transport does not listen")?;
        drop(ask);
        let status = child.wait().context("cannot wait for jack_transport")?;
        ensure!(status.success(), "jack_transport: {status}");
        Ok(())
    }

    /// The reading is the same once the session has been closed, opened and saved again.
    fn kept(&self, saved: &str) -> Result<Seen> {
        let again = self.open_and_save(&self.home().join("again.qtr"), saved)?;
        let (before, after) = (reading(saved)?, reading(&again)?);
        ensure!(
            before == after,
            "the mix's reading has changed by closing and opening the session"
        );
        Ok(Seen::Well("the mix's reading is the same".to_owned()))
    }
}

/// The reading of the mix.
fn reading(session: &str) -> Result<Value> {
    song::reading(states(session)?)
}

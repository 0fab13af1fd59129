//! A whole session in Ardour: a part on each track and Brunt on it, Brunt on the mix bus. Played,
//! saved, opened again; what the mix has read is compared with `brunt check --part` on the same files.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use super::ardour::Ardour;
use super::song::{self, LENGTH_S, Part};
use crate::report::{Row, Seen};

/// What is exported, s: enough to hear a difference.
const EXPORT_S: u32 = 12;
/// Ardour 7 counts time in these, a second: enough for every sample rate.
const SUPERCLOCK: u64 = 282_240_000;

/// Plays the session and compares; a row a step.
pub fn rows(place: &Path) -> Vec<Row> {
    let mut rows = Vec::new();
    let host = Ardour::new(place.join("ardour"), place.join("whole"));
    let mut step = |what, seen: Result<Seen>| {
        let go_on = seen.is_ok();
        rows.push(Row { what, seen });
        go_on
    };
    let parts = match song::parts(place) {
        Ok(parts) => parts,
        Err(error) => {
            step("ardour session: stems", Err(error));
            return rows;
        }
    };
    let names: Vec<_> = parts.iter().map(for_host).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let length = (LENGTH_S + 1).to_string();
    let export = EXPORT_S.to_string();
    let made = host
        .export_preset("floats.preset", include_str!("session/floats.preset"))
        .and_then(|()| host.lua_with("make.lua", include_str!("session/make.lua"), &names));
    let play = || host.lua_with("play.lua", include_str!("session/play.lua"), &[&length]);
    let played = step("ardour session: make", made)
        && step("ardour session: files", put_in(host.session(), &parts))
        && step("ardour session: play, save", play());
    if !played {
        return rows;
    }
    match song::expected(&parts) {
        Err(error) => {
            step("ardour session: brunt check", Err(error));
        }
        Ok(expected) => {
            let read = reading(host.session(), "brunt");
            step("ardour session: parts", song::compare_parts(&expected, &read, parts.len()));
            step("ardour session: costs", song::compare_costs(&expected, &read));
        }
    }
    let reopen = |from: &str, to: &str| {
        let script = include_str!("session/reopen.lua");
        more_than_once(|| host.lua_with("reopen2.lua", script, &[from, to, &export]))
    };
    if step("ardour session: reopen, export", reopen("brunt", "again")) {
        step("ardour session: reading kept", kept(host.session()));
        let listening = ask_to_hear(host.session()).and_then(|()| reopen("side", "listening"));
        if step("ardour session: asked to hear the side", listening) {
            step("ardour session: export", exports(host.session()));
        }
    }
    rows
}

/// How often a session is opened and exported before it counts as failed: Ardour 7.3 on its dummy
/// backend damages its memory in one export of five or so, without any plug-in as well.
const TRIES: u32 = 5;

/// Tries again where the host crashes, and says so.
fn more_than_once(run: impl Fn() -> Result<Seen>) -> Result<Seen> {
    for tried in 1..TRIES {
        match run() {
            Err(error) if error.to_string().starts_with("signal: ") => {
                println!("Ardour crashes, try {tried} of {TRIES}: {error:#}");
            }
            Ok(Seen::Well(text)) if tried > 1 => {
                return Ok(Seen::Well(format!("{text} (try {tried}: Ardour had crashed)")));
            }
            other => return other,
        }
    }
    run()
}

/// A part as `make.lua` reads it.
fn for_host(part: &Part) -> String {
    format!("{} {}", part.role + 1, part.name)
}

/// Puts each part's file on its track. Ardour's scripts cannot import without a window, so that
/// sources and regions are written into the session's file, as Ardour 7.3 writes them itself.
fn put_in(session: &Path, parts: &[Part]) -> Result<Seen> {
    let file = session.join("brunt.ardour");
    let mut text =
        fs::read_to_string(&file).with_context(|| format!("cannot read {}", file.display()))?;
    let length = u64::from(LENGTH_S) * SUPERCLOCK;
    let mut sources = String::from("<Sources>");
    for (index, part) in parts.iter().enumerate() {
        let (left, right) = (900_000 + 10 * index, 900_001 + 10 * index);
        let path = part.file.display();
        for (channel, id) in [left, right].into_iter().enumerate() {
            sources.push_str(&format!(
                r#"<Source name="{path}" type="audio" flags="" id="{id}" channel="{channel}" origin="{path}" gain="1"/>"#
            ));
        }
        let region = format!(
            r#"<Region name="{name}" muted="0" opaque="1" locked="0" video-locked="0" automatic="0" whole-file="0" import="0" external="1" sync-marked="0" left-of-split="0" right-of-split="0" hidden="0" position-locked="0" valid-transients="0" start="a0" length="a{length}@a0" sync-position="a0" ancestral-start="a0" ancestral-length="a0@a0" stretch="1" shift="1" layering-index="0" tags="" contents="0" envelope-active="0" default-fade-in="0" default-fade-out="0" fade-in-active="0" fade-out-active="0" scale-amplitude="1" id="{id}" type="audio" first-edit="nothing" source-0="{left}" source-1="{right}" master-source-0="{left}" master-source-1="{right}" channels="2"><Envelope default="yes"/></Region>"#,
            name = part.name,
            id = right + 1,
        );
        let at = text
            .find(&format!("name=\"{}\" type=\"audio\" orig-track-id", part.name))
            .with_context(|| format!("the session has no playlist {}", part.name))?;
        let end = text[at..].find("/>").context("a playlist that is not empty")? + at;
        text.replace_range(end..end + 2, &format!(">{region}</Playlist>"));
    }
    sources.push_str("</Sources>");
    ensure!(text.contains("<Sources/>"), "the session has sources already");
    let text = text.replacen("<Sources/>", &sources, 1);
    fs::write(&file, text).with_context(|| format!("cannot write {}", file.display()))?;
    Ok(Seen::Well(format!("{} of {LENGTH_S} s on their tracks", parts.len())))
}

/// The reading of the mix in a session that was saved under this name.
fn reading(session: &Path, name: &str) -> Result<Value> {
    song::reading(super::ardour::states(&session.join(format!("{name}.ardour")))?)
}

/// The reading is the same once the session has been closed, opened and saved again.
fn kept(session: &Path) -> Result<Seen> {
    let (before, after) = (reading(session, "brunt")?, reading(session, "again")?);
    ensure!(before == after, "the mix's reading has changed by closing and opening the session");
    Ok(Seen::Well("the same after closing and opening".to_owned()))
}

/// Asks the mix's instance for its side-chain, which the first part is sent to, in a copy of the
/// session. The host cannot: this parameter is the user's alone.
fn ask_to_hear(session: &Path) -> Result<()> {
    let file = session.join("brunt.ardour");
    let text =
        fs::read_to_string(&file).with_context(|| format!("cannot read {}", file.display()))?;
    // The host counts the state's bytes: the number that gets shorter makes room for the word.
    let changes = [
        (r#""listen":{"string":"mix"}"#, r#""listen":{"string":"side"}"#),
        (r#""leak":{"f32":2.0}"#, r#""leak":{"f32":2 }"#),
    ];
    let changed = super::ardour::change_states(&text, |state| {
        if !state.contains(r#""role":{"string":"mix"}"#) {
            return None;
        }
        let mut state = state.to_owned();
        for (from, to) in changes {
            state = state.contains(from).then(|| state.replacen(from, to, 1))?;
        }
        Some(state)
    })?;
    fs::write(session.join("side.ardour"), changed).context("cannot write the copy")
}

/// Both exports are the mix: what is listened to is never printed.
fn exports(session: &Path) -> Result<Seen> {
    let mut files = Vec::new();
    for name in ["again", "listening"] {
        let folder = session.join("export");
        let list =
            fs::read_dir(&folder).with_context(|| format!("cannot list {}", folder.display()))?;
        let found = list.flatten().map(|entry| entry.path()).find(|path| {
            path.file_stem().is_some_and(|stem| stem.to_string_lossy().starts_with(name))
        });
        let found = found.with_context(|| format!("no export {name} in {}", folder.display()))?;
        let bytes = fs::read(&found).with_context(|| format!("cannot read {}", found.display()))?;
        // The head before the samples has a date in it.
        let at = bytes.windows(4).position(|four| four == b"data").context("no samples")?;
        files.push(bytes[at..].to_vec());
    }
    let loud = files[0].iter().filter(|byte| **byte != 0).count();
    ensure!(loud > files[0].len() / 2, "the export of the mix is silent");
    let different = files[0].iter().zip(&files[1]).filter(|(a, b)| a != b).count();
    ensure!(
        files[0].len() == files[1].len() && different == 0,
        "{different} of {} bytes differ while the side-chain is listened to",
        files[0].len()
    );
    Ok(Seen::Well(format!(
        "{} bytes of the mix, the same while the side-chain is listened to",
        files[0].len()
    )))
}

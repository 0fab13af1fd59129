//! Qtractor: scans the CLAP, opens a session with it on the main bus, saves, and opens it again.
//!
//! JACK runs on its dummy driver. Qtractor opens no session without the kernel's ALSA sequencer,
//! which containers lack: there `sequencer.c` answers in its place.

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant, SystemTime};

use anyhow::{Context, Result, bail, ensure};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use serde_json::Value;

use crate::jack::Server;
use crate::report::{Row, Seen};
use crate::workspace::{self, Running};

/// Qtractor's scan helper in Debian.
const SCANNER: &str = "/usr/lib/x86_64-linux-gnu/qtractor/qtractor_plugin_scan";
/// The kernel's sequencer.
const SEQUENCER: &str = "/dev/snd/seq";
/// The name of JACK's server here.
const SERVER: &str = "brunt-hosts";
/// Value of "Watch from", dB, that is put into the session's state and must come out of it again.
const WATCH_DB: f64 = 3.0;
/// The text ahead of the plug-in's state in a session, and behind it.
const STATE: [&str; 2] = ["<config key=\"state\">", "</config>"];
/// Longest wait for a session to be open and saved.
const PATIENCE: Duration = Duration::from_secs(60);

/// The host, too, where all went well: for a whole session.
pub fn rows(clap: &Path, place: &Path) -> (Vec<Row>, Option<Host>) {
    let sequencer = if Path::new(SEQUENCER).exists() { "the kernel's" } else { "a stand-in" };
    let mut rows = vec![
        Row { what: "qtractor", seen: super::version::version("qtractor") },
        Row { what: "qtractor: scan (CLAP)", seen: scan(clap) },
    ];
    let what = "qtractor: save, reopen, save";
    let host = match Host::start(clap, place) {
        Ok(host) => host,
        Err(error) => {
            rows.push(Row { what, seen: Err(error) });
            return (rows, None);
        }
    };
    let seen = host.session();
    let seen = seen.map(|seen| Seen::Well(format!("{seen}; {sequencer} ALSA sequencer")));
    let well = seen.is_ok();
    rows.push(Row { what, seen });
    (rows, well.then_some(host))
}

fn scan(clap: &Path) -> Result<Seen> {
    let mut child = Command::new("timeout")
        .args(["60", SCANNER])
        .env("NICE_LOG", "/dev/null")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .context("qtractor_plugin_scan cannot start")?;
    let mut ask = child.stdin.take().context("no standard input")?;
    writeln!(ask, "CLAP:{}", clap.display()).context("it does not listen")?;
    drop(ask);
    let output = child.wait_with_output().context("cannot wait for it")?;
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    // CLAP|name|audio ins:outs|MIDI ins:outs|parameters|flags|file|index|id
    match said.lines().find(|line| line.starts_with("CLAP|Brunt|2:2|")) {
        Some(line) => Ok(Seen::Well(line.split('|').take(6).collect::<Vec<_>>().join(" "))),
        None => bail!("{}: {}", output.status, said.trim()),
    }
}

/// What a session needs.
pub struct Host {
    /// The plug-in.
    clap: PathBuf,
    /// A home of its own: the user's settings stay out of it.
    home: PathBuf,
    /// The stand-in for the sequencer, where it is needed.
    stand_in: Option<PathBuf>,
    jack: Server,
}

impl Host {
    fn start(clap: &Path, place: &Path) -> Result<Self> {
        let home = place.join("qtractor");
        fs::create_dir_all(&home).with_context(|| format!("cannot create {}", home.display()))?;
        let stand_in = if Path::new(SEQUENCER).exists() { None } else { Some(build(&home)?) };
        let jack = Server::start(SERVER)?;
        Ok(Self { clap: clap.to_owned(), home, stand_in, jack })
    }

    /// Opens a session with a new plug-in and saves it; changes a parameter in the plug-in's saved
    /// state, opens that and saves it again: what then stands there has been through the plug-in.
    fn session(&self) -> Result<String> {
        let file = self.home.join("brunt.qtr");
        let saved = self.open_and_save(&file, &self.text(None, ""))?;
        let [head, state, tail] = parts(&saved).context("first save")?;
        let mut json = unpack(state).context("first save")?;
        *watch(&mut json).context("first save")? = WATCH_DB.into();
        let edited = format!("{head}{}{tail}", pack(&json)?);
        let again = self.open_and_save(&file, &edited)?;
        let [_, state, _] = parts(&again).context("second save")?;
        let mut json = unpack(state).context("second save")?;
        let read = watch(&mut json)?.as_f64();
        ensure!(read == Some(WATCH_DB), "\"Watch from\" is {read:?}: expected {WATCH_DB}");
        Ok("saved, opened with another state, saved; parameter kept".to_owned())
    }

    /// Where its sessions are.
    pub(super) fn home(&self) -> &Path {
        &self.home
    }

    /// A session with the plug-in on the main bus, in this state or a new one, and these tracks.
    pub(super) fn text(&self, state: Option<&str>, tracks: &str) -> String {
        include_str!("session.qtr").replace("PLUGIN", &self.plugin(state)).replace("TRACKS", tracks)
    }

    /// The plug-in, in this state or a new one.
    pub(super) fn plugin(&self, state: Option<&str>) -> String {
        let [start, end] = STATE;
        let state = state.map(|state| format!("<configs>{start}{state}{end}</configs>"));
        format!(
            "<plugin type=\"CLAP\"><filename>{}</filename><index>0</index><label>Brunt</label>\
             <activated>1</activated>{}</plugin>",
            escaped(&self.clap.display().to_string()),
            state.unwrap_or_default()
        )
    }

    /// Writes a session, opens it, has it saved in its place and gives it.
    pub(super) fn open_and_save(&self, file: &Path, text: &str) -> Result<String> {
        let mut host = self.open(file, text)?;
        let saved = self.save(&mut host, file)?;
        end(host)?;
        Ok(saved)
    }

    /// Writes a session and opens it.
    pub(super) fn open(&self, file: &Path, text: &str) -> Result<Running> {
        fs::write(file, text).with_context(|| format!("cannot write {}", file.display()))?;
        let mut command = self.command("qtractor");
        command
            .arg(file)
            .env("QT_QPA_PLATFORM", "offscreen")
            .env("NICE_LOG", self.home.join("plug-in.log"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(fs::File::create(self.home.join("qtractor.log"))?);
        if let Some(stand_in) = &self.stand_in {
            command.env("LD_PRELOAD", stand_in);
        }
        let host = Running(command.spawn().context("qtractor cannot start")?);
        // While it reads a session it must not be asked to save: it would empty the file that it reads.
        let maps = format!("/proc/{}/maps", host.0.id());
        let name = self.clap.display().to_string();
        let began = Instant::now();
        while !fs::read_to_string(&maps).is_ok_and(|maps| maps.contains(&name)) {
            ensure!(
                began.elapsed() < PATIENCE,
                "the plug-in is not loaded; see {}",
                self.home.display()
            );
            sleep(Duration::from_millis(500));
        }
        sleep(Duration::from_secs(3));
        Ok(host)
    }

    /// A program that knows this run's JACK server, and none of the user's settings.
    pub(super) fn command(&self, program: &str) -> Command {
        let mut command = self.jack.command(program);
        command
            .env("HOME", &self.home)
            .env("XDG_CONFIG_HOME", self.home.join(".config"))
            .env("XDG_RUNTIME_DIR", &self.home);
        command
    }

    /// Has the open session saved in its place and gives it.
    pub(super) fn save(&self, host: &mut Running, file: &Path) -> Result<String> {
        let written = || -> Result<SystemTime> { Ok(fs::metadata(file)?.modified()?) };
        let before = written()?;
        let began = Instant::now();
        while began.elapsed() < PATIENCE {
            // It takes the signal from the moment its window is made; before, that would end it.
            sleep(Duration::from_secs(3));
            if let Some(status) = host.0.try_wait()? {
                bail!("qtractor ended by itself: {status}; see {}", self.home.display());
            }
            signal("USR1", &host.0)?;
            sleep(Duration::from_secs(1));
            let now = fs::read_to_string(file).unwrap_or_default();
            if written().is_ok_and(|at| at != before) && now.trim_end().ends_with("</session>") {
                return Ok(now);
            }
        }
        bail!("nothing was saved within {} s", PATIENCE.as_secs())
    }
}

/// Ends the host as a user does.
pub(super) fn end(mut host: Running) -> Result<()> {
    signal("TERM", &host.0)?;
    let status = host.0.wait().context("cannot wait for qtractor")?;
    ensure!(status.success(), "qtractor ends with {status}");
    Ok(())
}

/// A text as XML has it.
pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// Builds the stand-in with the C compiler that the build needs anyway.
fn build(folder: &Path) -> Result<PathBuf> {
    let (source, library) = (folder.join("sequencer.c"), folder.join("sequencer.so"));
    fs::write(&source, include_str!("sequencer.c"))?;
    let mut compile = Command::new("cc");
    compile.args(["-shared", "-fPIC", "-o"]).arg(&library).arg(&source);
    workspace::run(&mut compile, "the stand-in for the sequencer does not build")?;
    Ok(library)
}

/// Asks a program to save (USR1) or to end (TERM).
fn signal(name: &str, program: &Child) -> Result<()> {
    let status = Command::new("kill")
        .args(["-s", name, &program.id().to_string()])
        .status()
        .context("kill cannot start")?;
    ensure!(status.success(), "kill -s {name}: {status}");
    Ok(())
}

/// A session cut at the plug-in's state: ahead of it, itself, behind it.
pub(super) fn parts(session: &str) -> Result<[&str; 3]> {
    let [start, end] = STATE;
    let at =
        session.find(start).context("the session holds no state of the plug-in")? + start.len();
    let length = session[at..].find(end).context("the state has no end")?;
    Ok([&session[..at], &session[at..at + length], &session[at + length..]])
}

/// The states of all plug-ins in a session.
pub(super) fn states(session: &str) -> Result<Vec<Value>> {
    let [start, end] = STATE;
    let state = |rest: &str| {
        let (state, _) = rest.split_once(end).context("a state has no end")?;
        unpack(state)
    };
    session.split(start).skip(1).map(state).collect()
}

/// The parameter that is watched here.
fn watch(state: &mut Value) -> Result<&mut Value> {
    state.pointer_mut("/params/watch/f32").context("the state holds no \"Watch from\"")
}

/// The JSON in a state as Qtractor keeps it: base64 of a length (big-endian) and a zlib stream, in
/// which the framework's own length (little-endian, 8 bytes) goes first.
pub(super) fn unpack(state: &str) -> Result<Value> {
    let text: String = state.chars().filter(|c| !c.is_whitespace()).collect();
    let bytes = BASE64_STANDARD.decode(text).context("the state is no base64")?;
    let mut plain = Vec::new();
    ZlibDecoder::new(bytes.get(4..).unwrap_or_default())
        .read_to_end(&mut plain)
        .context("the state is no zlib stream")?;
    serde_json::from_slice(plain.get(8..).unwrap_or_default()).context("the state is no JSON")
}

/// The other way.
pub(super) fn pack(state: &Value) -> Result<String> {
    let json = serde_json::to_vec(state)?;
    let mut plain = (json.len() as u64).to_le_bytes().to_vec();
    plain.extend(json);
    let mut bytes = (plain.len() as u32).to_be_bytes().to_vec();
    let mut stream = ZlibEncoder::new(&mut bytes, Compression::default());
    stream.write_all(&plain)?;
    stream.finish()?;
    Ok(BASE64_STANDARD.encode(bytes))
}

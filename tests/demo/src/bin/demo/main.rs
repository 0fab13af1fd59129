//! Plays every version of the invented session through the built plug-in and tabulates what it
//! reads. `cargo xtask demo` prepares everything and calls this:
//!
//! `demo OUT BRUNT` with the folder to write into and the path of the built program `brunt`. The
//! plug-in is the one that `brunt_host::bundle` finds.
//!
//! An instance sits on every part and one on the mix. For each version OUT gets the sound of the mix
//! (`.wav`, 24 bit), the readings of the mix's instance out of its saved state (`.json`), a picture
//! of its editor while it plays (`.png`), and the page of `brunt check` on mix and parts (`.html`);
//! of those in [`HEARD`] also the folder that `brunt listen` writes (`-listen`).
//! Exit status: 0 done; 1 a step failed, or plug-in and file check disagree.

mod agree;
mod desk;
mod hear;
mod screen;
mod table;

use std::env;
use std::error::Error;
use std::fs;
use std::io::ErrorKind;
use std::path::{self, Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::thread;
use std::time::Instant;

use brunt_demo::bounce;
use brunt_demo::song::{self, BAND, SAMPLE_RATE_HZ, Session, TEMPO_BPM, TITLE, Version};
use brunt_report::report::Report;

use agree::Agreement;
use desk::{Desk, Part};
use table::Row;

/// Moment of the song at which the editor is looked at, s: in its last third, while it plays.
const PICTURE_S: f64 = 30.0;

/// Versions that `brunt listen` is run on: a limiter with the mix before it, and two whose parts are
/// changed.
const HEARD: [Version; 3] = [Version::Ceiling, Version::Timing, Version::Clutter];

type Result<T> = std::result::Result<T, Box<dyn Error>>;

fn main() -> ExitCode {
    let arguments: Vec<PathBuf> = env::args_os().skip(1).map(PathBuf::from).collect();
    let [out, brunt] = arguments.as_slice() else {
        eprintln!("usage: demo OUT BRUNT, called by `cargo xtask demo`");
        return ExitCode::FAILURE;
    };
    let result = match screen::prepare() {
        Ok(screen::Screen::Here) => run(out, brunt),
        Ok(screen::Screen::RanInside(status)) => return status,
        Err(error) => Err(error),
    };
    result.unwrap_or_else(|error| {
        eprintln!("error: {error}");
        ExitCode::FAILURE
    })
}

fn run(out: &Path, brunt: &Path) -> Result<ExitCode> {
    fs::create_dir_all(out).map_err(|e| format!("cannot create {}: {e}", out.display()))?;
    println!("{BAND}: \"{TITLE}\", {TEMPO_BPM:.0} beats a minute, an invented song");
    // The clean mix, and its file: the reference for the mids, which without one are read against records.
    let mut clean: Option<(PathBuf, Vec<Vec<f32>>)> = None;
    let mut rows = Vec::new();
    let mut agreement = Agreement::default();
    for (index, version) in Version::ALL.into_iter().enumerate() {
        let started = Instant::now();
        println!("[{}/{}] {}: {}", index + 1, Version::ALL.len(), version.name(), version.what());
        let session = song::render(version);
        let wav = out.join(format!("{}.wav", version.name()));
        let samples = bounce::write(&wav, &session.mix)?;
        let folder = tempfile::tempdir()?;
        // In the order in which the mix bus lists them, and under the names that their tracks have,
        // so that even the sentences are the same.
        let mut stems: Vec<_> = session.stems.iter().collect();
        stems.sort_by_key(|stem| (stem.role, stem.name));
        let mut parts = Vec::new();
        for stem in stems {
            let samples = bounce::write(&folder.path().join(stem.name), &stem.audio)?;
            parts.push(Part { name: stem.name, role: stem.role, samples });
        }
        println!(
            "      played and bounced, {:.0} s of sound, {} parts and the mix",
            session.mix.seconds(),
            parts.len()
        );

        let reference = clean.as_ref().filter(|_| version == Version::Mids);
        let page = out.join(format!("{}.html", version.name()));
        let beside = reference.map(|(file, _)| file.as_path());
        let files = || -> Result<(String, Option<String>)> {
            let checked = check(brunt, (&wav, beside), &parts, folder.path(), &page)?;
            if !HEARD.contains(&version) {
                return Ok((checked, None));
            }
            let before = folder.path().join("before.wav");
            bounce::write(&before, &song::sum(&session.stems))?;
            let before = (version == Version::Ceiling).then_some(before.as_path());
            let to = out.join(format!("{}-listen", version.name()));
            let said = hear::versions(brunt, &wav, before, (&parts, folder.path()), &to)?;
            Ok((checked, Some(said)))
        };
        // The files are read while the plug-in plays.
        let (report, files) = thread::scope(|scope| {
            let files = scope.spawn(|| files().map_err(|error| error.to_string()));
            let mix = reference.map(|clean| &clean.1);
            (through_the_plug_in(out, version, &parts, &samples, mix), files.join())
        });
        let report = report?;
        println!("      plug-in: {}", report.verdict);
        let (checked, said) = files.map_err(|_| "the file check came to no end")??;
        let found = agree::compare(&report.to_json()?, &checked, reference.is_some())?;
        println!("      brunt check of the file: {found}");
        agreement.add(found);
        if let Some(said) = said {
            println!("      brunt listen: {said}");
        }
        rows.push(Row::new(&session, report));
        if version == Version::Clean {
            clean = Some((wav, samples));
        }
        println!("      {:.0} s", started.elapsed().as_secs_f64());
    }
    println!();
    print!("{}", table::print(&rows));
    println!();
    println!("Plug-in and file check: {agreement}");
    println!("Sounds, pictures and numbers: {}", out.display());
    println!("Listen at a moderate level.");
    Ok(if agreement.holds() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Plays parts and mix through instances of the built plug-in as a host does, with the reference in the
/// mix's side-chain, and gives what the one on the mix has measured.
fn through_the_plug_in(
    out: &Path,
    version: Version,
    parts: &[Part],
    mix: &[Vec<f32>],
    reference: Option<&Vec<Vec<f32>>>,
) -> Result<Report> {
    let mut desk = Desk::new(parts, reference.cloned())?;
    let frames = mix.first().map_or(0, Vec::len);
    let while_it_plays = frames.min((PICTURE_S * f64::from(SAMPLE_RATE_HZ)) as usize);
    let mut same = desk.play(parts, mix, (0, while_it_plays))?;
    screen::picture(desk.mix(), &out.join(format!("{}.png", version.name())))?;
    same &= desk.play(parts, mix, (while_it_plays, frames))?;
    if !same {
        return Err(format!("{}: the plug-in has changed the sound", version.name()).into());
    }
    desk.stop()?;
    let mut report = desk.report()?;
    version.name().clone_into(&mut report.mix.file);
    fs::write(out.join(format!("{}.json", version.name())), report.to_json()?)?;
    desk.close();
    Ok(report)
}

/// The same files, the parts' in `folder`, through the program `brunt`, the mix against a reference where
/// there is one; gives its JSON.
fn check(
    brunt: &Path,
    (wav, reference): (&Path, Option<&Path>),
    parts: &[Part],
    folder: &Path,
    page: &Path,
) -> Result<String> {
    let absolute =
        |path: &Path| path::absolute(path).map_err(|e| format!("{}: {e}", path.display()));
    let page = absolute(page)?;
    let mut command = Command::new(absolute(brunt)?);
    command.current_dir(folder).arg("check").arg(absolute(wav)?).args(["--quiet", "--json", "-"]);
    if let Some(reference) = reference {
        command.arg("--reference").arg(absolute(reference)?);
    }
    for part in parts {
        command.arg("--part").arg(format!("{}={}", part.role.code(), part.name));
    }
    // The page of the last demo goes: this is our own folder.
    match fs::remove_file(&page) {
        Err(error) if error.kind() != ErrorKind::NotFound => return Err(error.into()),
        _ => command.arg("--html").arg(&page),
    };
    let output = command
        .stdin(Stdio::null())
        .stderr(Stdio::inherit())
        .output()
        .map_err(|e| format!("cannot run {}: {e}", brunt.display()))?;
    if !output.status.success() {
        return Err(format!("brunt check {}: {}", wav.display(), output.status).into());
    }
    Ok(String::from_utf8(output.stdout)?)
}

/// The limiter's own meter at the hits of a session, dB of gain reduction: median, 90th
/// percentile and largest; `None` where there is no limiter.
fn limiter_meter(session: &Session) -> Option<[f64; 3]> {
    let gain = &session.limiter_gain_db;
    if gain.is_empty() {
        return None;
    }
    // Within the first 50 ms of each hit, where its peak is.
    let reach = SAMPLE_RATE_HZ as usize / 20;
    let mut at_hits: Vec<f64> = session
        .drum_hits_s
        .iter()
        .map(|at| {
            let from = ((at * f64::from(SAMPLE_RATE_HZ)) as usize).min(gain.len());
            let to = (from + reach).min(gain.len());
            -f64::from(gain[from..to].iter().copied().fold(0.0, f32::min))
        })
        .collect();
    at_hits.sort_by(f64::total_cmp);
    let at = |share: f64| at_hits[((at_hits.len() - 1) as f64 * share).round() as usize];
    Some([at(0.5), at(0.9), at(1.0)])
}

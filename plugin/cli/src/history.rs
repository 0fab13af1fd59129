//! Revisions of one mix, side by side: the passage that all of them hold, measured in each.

mod align;

use std::path::{Path, PathBuf};

use brunt_report::history::{Change, History, Revision};
use brunt_report::words;

use crate::analyse::{Options, Progress, analyse};
use crate::error::{Error, Fault};
use align::{Envelope, Place, place};

/// Shortest passage in common that is measured, s; with less each file is measured whole. Ours:
/// the balance needs as much.
const SHORTEST_COMMON_S: f64 = 6.0;

/// Measures the revisions in `files`, in their order. `progress` is called once a packet of each
/// reading.
///
/// # Errors
/// Any fault of a file; see [`Fault`].
pub fn history(
    files: &[PathBuf],
    options: &Options,
    progress: &mut dyn FnMut(Progress),
) -> Result<History, Error> {
    let places = places(files, progress)?;
    let passage = common(&places);
    let mut revisions: Vec<Revision> = Vec::new();
    for (n, (path, (place, duration_s))) in files.iter().zip(&places).enumerate() {
        let aligned = place.filter(|_| passage.is_some());
        let options = match (aligned, passage) {
            (Some(place), Some((from, to))) => Options {
                from_s: Some((from - place.offset_s).max(0.0)),
                to_s: Some((to - place.offset_s).min(*duration_s)),
                ..options.clone()
            },
            _ => options.clone(),
        };
        let mut report = analyse(path, &options, progress)?;
        // What a listener gets of both means something for one song alone.
        let before = revisions.last().filter(|r: &&Revision| r.aligned && aligned.is_some());
        if let Some(before) = before.and_then(|r| r.report.version()) {
            report.set_before(&before);
        }
        revisions.push(Revision {
            name: letter(n),
            file: path.to_string_lossy().into_owned(),
            aligned: aligned.is_some(),
            offset_s: aligned.map(|place| place.offset_s),
            correlation: aligned.map(|place| place.correlation),
            report,
        });
    }
    let changes = revisions.windows(2).map(|pair| change(&pair[0], &pair[1])).collect();
    Ok(History::new(passage.map(|(from, to)| to - from), revisions, changes))
}

fn change(before: &Revision, after: &Revision) -> Change {
    let same = before.aligned && after.aligned;
    let mut says = words::changes(&before.report, &after.report);
    if !same {
        says.insert(0, words::not_aligned());
    }
    Change { from: before.name.clone(), to: after.name.clone(), says }
}

/// A, B, ... Z, then by number.
fn letter(n: usize) -> String {
    u8::try_from(n)
        .ok()
        .filter(|n| *n < 26)
        .map_or_else(|| format!("{}", n + 1), |n| char::from(b'A' + n).to_string())
}

/// Where each file lies on the first one's time, where it shows the same song, and its length, s.
fn places(
    files: &[PathBuf],
    progress: &mut dyn FnMut(Progress),
) -> Result<Vec<(Option<Place>, f64)>, Error> {
    let mut places = Vec::new();
    let mut first: Option<Envelope> = None;
    for path in files {
        let envelope = Envelope::read(path, progress)?;
        check_length(path, &envelope)?;
        let found = match &first {
            None => Some(Place { offset_s: 0.0, correlation: 1.0 }),
            Some(first) => place(first, &envelope),
        };
        places.push((found, envelope.duration_s));
        first.get_or_insert(envelope);
    }
    Ok(places)
}

fn check_length(path: &Path, envelope: &Envelope) -> Result<(), Error> {
    if envelope.duration_s < crate::error::SHORTEST_S {
        return Err(Fault::Short { duration_s: envelope.duration_s }.of(path));
    }
    Ok(())
}

/// The passage, on the first file's time, that every aligned file holds; `None` where fewer than
/// two are aligned or it is too short.
fn common(places: &[(Option<Place>, f64)]) -> Option<(f64, f64)> {
    let held = || {
        places.iter().filter_map(|(place, duration_s)| {
            place.map(|place| (place.offset_s, place.offset_s + duration_s))
        })
    };
    let from = held().map(|(from, _)| from).fold(0.0, f64::max);
    let to = held().map(|(_, to)| to).fold(f64::INFINITY, f64::min);
    (held().count() > 1 && to - from >= SHORTEST_COMMON_S).then_some((from, to))
}

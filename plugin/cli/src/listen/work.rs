//! The writing: every version at the common loudness, read back from its file and measured again, then
//! the session's JSON and the page. Files have no names until the last of them is on the disk.

use std::fs;
use std::path::{Path, PathBuf};

use brunt_engine::parts::PartMeter;
use brunt_engine::parts::remix::Remix;
use brunt_engine::{Config, LeakKind, carried_db, median};
use brunt_files::whole::Whole;
use brunt_report::html;
use brunt_report::listen::{LeftOut, ListenReport, VersionReport};
use brunt_report::words::{leak_code, listen as say};
use rayon::prelude::*;

use super::encode::{self, Format};
use super::folder::{Folder, JSON, PAGE};
use super::level::{self, Level};
use super::versions::{Draft, Hits};
use super::wish::{Step, Wish};
use crate::error::{Error, Fault};
use crate::output::{Filled, Target};

/// What is written, and what it is measured at.
pub(super) struct Work<'a> {
    pub(super) wish: &'a Wish,
    pub(super) hits: &'a Hits,
}

/// A version at its level.
struct Ready {
    draft: Draft,
    rate: u32,
    level: Level,
}

/// A version as its file has it.
struct Heard {
    level: Level,
    /// Contrast of each counted hit, dB.
    contrasts_db: Vec<f64>,
    /// Level from 200 Hz to 4 kHz over the whole, dB.
    carried_db: Option<f64>,
    /// Contrast of the hits that the file itself has, dB, median.
    own_db: Option<f64>,
}

impl Work<'_> {
    /// Writes everything. `rates`: sample rate of each version, Hz.
    pub(super) fn write(
        &self,
        drafts: Vec<Draft>,
        rates: &[u32],
        mut session: ListenReport,
        folder: &mut Folder,
        step: &mut dyn FnMut(Step),
    ) -> Result<(ListenReport, Vec<PathBuf>), Error> {
        let (ready, silent) = self.levelled(drafts, rates)?;
        let silent = silent.into_iter().map(|leak| LeftOut::new(leak, say::SILENT_HERE));
        session.left_out.extend(silent);
        let levels: Vec<Level> = ready.iter().map(|ready| ready.level).collect();
        session.loudness_lufs = level::common_lufs(&levels);
        let names: Vec<String> = ready
            .iter()
            .enumerate()
            .map(|(n, ready)| format!("{}-{}.{}", n + 1, ready.draft.id, self.wish.format.ending()))
            .collect();
        let targets: Vec<Target> =
            names.iter().map(|name| folder.target(name)).collect::<Result<_, _>>()?;
        let [json, page] = [JSON, PAGE].map(|name| folder.target(name));
        let (json, page) = (json?, page?);
        let total = targets.len() + 2;
        step(Step::Writing(0, total));
        let common_lufs = session.loudness_lufs;
        let written: Vec<(Filled<'_>, Vec<u8>, Heard)> = ready
            .par_iter()
            .zip(&targets)
            .map(|(ready, target)| self.one(ready, common_lufs, target))
            .collect::<Result<_, Error>>()?;
        step(Step::Writing(targets.len(), total));
        session.versions = ready
            .iter()
            .enumerate()
            .map(|(n, version)| {
                let against = version
                    .draft
                    .against
                    .and_then(|id| ready.iter().position(|other| other.draft.id == id));
                let heard = &written[n].2;
                let before = against.map(|other| &written[other].2);
                report(version, &names[n], common_lufs, heard, before)
            })
            .collect();
        let unfit = |e: serde_json::Error| Fault::Encode(e.to_string()).of(json.path());
        let text = session.to_json().map_err(unfit)?;
        let audio: Vec<&[u8]> = written.iter().map(|(_, flac, _)| &flac[..]).collect();
        let text_page = html::listen::page(&session, &audio);
        let mut filled = vec![];
        let (mut files, mut all) = (Vec::new(), Vec::new());
        for (file, ..) in written {
            filled.push(file);
        }
        filled.push(json.fill(text.as_bytes())?);
        filled.push(page.fill(text_page.as_bytes())?);
        all.extend(&targets);
        all.extend([&json, &page]);
        let stale = folder.stale(&names.iter().map(String::as_str).collect::<Vec<_>>());
        name_all(filled, &all)?;
        for old in stale {
            // At another loudness than the rest it would mislead; where it cannot go it stays.
            let _ = fs::remove_file(old);
        }
        folder.done();
        step(Step::Writing(total, total));
        files.extend(all.iter().map(|target| target.path().to_owned()));
        Ok((session, files))
    }

    /// The versions with faded ends that can be brought to a loudness, and the causes that those which are
    /// silent take out; the mix has to be among the former.
    fn levelled(
        &self,
        drafts: Vec<Draft>,
        rates: &[u32],
    ) -> Result<(Vec<Ready>, Vec<LeakKind>), Error> {
        let levelled: Vec<Result<Ready, Option<LeakKind>>> = drafts
            .into_par_iter()
            .zip(rates)
            .map(|(mut draft, &rate)| {
                level::fade(&mut draft.planes, f64::from(rate));
                let level = Level::of(&draft.planes, f64::from(rate)).ok_or(draft.leak)?;
                Ok(Ready { draft, rate, level })
            })
            .collect();
        if levelled.first().is_none_or(Result::is_err) {
            return Err(Fault::Silent { peak_dbfs: None }.of(&self.wish.mix));
        }
        let mut ready = Vec::with_capacity(levelled.len());
        let mut silent = Vec::new();
        for version in levelled {
            match version {
                Ok(version) => ready.push(version),
                Err(leak) => silent.extend(leak),
            }
        }
        Ok((ready, silent))
    }

    /// Writes one version without its name, reads it back and measures it; gives its bytes for the page
    /// as well.
    fn one<'a>(
        &self,
        ready: &Ready,
        common_lufs: f64,
        target: &'a Target,
    ) -> Result<(Filled<'a>, Vec<u8>, Heard), Error> {
        let fault = |fault: Fault| fault.of(target.path());
        let mut planes = ready.draft.planes.clone();
        level::turn(&mut planes, common_lufs - ready.level.loudness_lufs);
        let format = self.wish.format;
        let bytes = format.bytes(&planes, ready.rate).map_err(fault)?;
        let filled = target.fill(&bytes)?;
        let page = match format {
            Format::Flac => bytes,
            Format::Wav | Format::WavFloat => encode::flac(&planes, ready.rate).map_err(fault)?,
        };
        let back = Whole::read(filled.path())
            .map_err(|error| Error { file: target.path().to_owned(), ..Error::from(error) })?;
        let heard = self.hear(&back).ok_or_else(|| fault(Fault::Silent { peak_dbfs: None }))?;
        Ok((filled, page, heard))
    }

    fn hear(&self, file: &Whole) -> Option<Heard> {
        let rate_hz = f64::from(file.sample_rate_hz);
        let config = Config { sample_rate_hz: rate_hz, channels: file.planes.len() };
        let cell_frames = PartMeter::new(config).ok()?.cell_frames();
        let places = (&self.hits.strokes[..], self.hits.counted.clone());
        let contrasts_db =
            Remix::new(rate_hz, cell_frames, &file.planes, places).contrasts_db().to_vec();
        let readings = level::readings(&file.planes, rate_hz)?;
        let level = Level::read(&readings.loudness)?;
        let carried_db = carried_db(&readings.balance.thirds_dbfs);
        Some(Heard { level, contrasts_db, carried_db, own_db: readings.punch.contrast_db })
    }
}

/// One version's row. `before`: the version that it is compared with.
fn report(
    ready: &Ready,
    file: &str,
    common_lufs: f64,
    heard: &Heard,
    before: Option<&Heard>,
) -> VersionReport {
    let draft = &ready.draft;
    let gain = |before: &Heard| match draft.leak {
        Some(LeakKind::Mids) => Some(heard.carried_db? - before.carried_db?),
        _ => {
            let gains = heard.contrasts_db.iter().zip(&before.contrasts_db).map(|(a, b)| a - b);
            median(&gains.collect::<Vec<f64>>())
        }
    };
    // A reference has hits of its own.
    let own = draft.id == "reference";
    VersionReport {
        id: draft.id.to_owned(),
        file: file.to_owned(),
        name: draft.name.clone(),
        what: draft.what.clone(),
        leak: draft.leak.map(|leak| leak_code(leak).to_owned()),
        against: draft.against.map(ToOwned::to_owned),
        gain_db: common_lufs - ready.level.loudness_lufs,
        loudness_lufs: Some(heard.level.loudness_lufs),
        true_peak_dbtp: Some(heard.level.true_peak_dbtp),
        contrast_db: if own { heard.own_db } else { median(&heard.contrasts_db) },
        estimated_db: draft.estimated_db,
        predicted_db: draft.predicted_db,
        remeasured_db: before.and_then(gain),
    }
}

/// Gives all files their names, or none: those that were new go again where a later one fails.
fn name_all(filled: Vec<Filled<'_>>, targets: &[&Target]) -> Result<(), Error> {
    let mut named: Vec<&Path> = Vec::new();
    for (file, target) in filled.into_iter().zip(targets) {
        if let Err(error) = file.name() {
            for path in named {
                let _ = fs::remove_file(path);
            }
            return Err(error);
        }
        if target.is_new() {
            named.push(target.path());
        }
    }
    Ok(())
}

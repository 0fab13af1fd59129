//! The versions of a passage: the mix as it is, and with each cause taken out.

use std::path::PathBuf;

use brunt_engine::parts::clutter::Change;
use brunt_engine::parts::remix::Remix;
use brunt_engine::parts::{HitGain, PartRole, PartsReading};
use brunt_engine::thresholds::arrangement::LOWER_DB;
use brunt_engine::thresholds::{SURROUND_AFTER_MS, SURROUND_BEFORE_MS};
use brunt_engine::{Config, LeakKind, Mending, Meter, Readings, SideRole, State, THIRDS, median};
use brunt_report::listen::LeftOut;
use brunt_report::report::Report;
use brunt_report::words::listen as say;
use brunt_report::words::part_name;

use super::passage::Passage;
use crate::analyse::Options;
use crate::beside::BeforeMix;
use crate::error::Error;
use crate::parts::{Parts, Shown};

/// What a change has to give back for its version to be written, dB, where its leak is clear. Ours:
/// less is hardly heard.
const LEAST_DB: f64 = 0.3;
/// Most of the passage that the mix before the limiter may lack, s. Ours: an end that was cut a little closer.
const MISSING_S: f64 = 0.5;
/// Sound ahead of the passage that a change of tone settles in, s. Ours: over the length of its response.
const SETTLE_S: f64 = 0.5;

/// One version, not yet at its level.
pub(super) struct Draft {
    pub(super) id: &'static str,
    pub(super) name: String,
    pub(super) what: String,
    pub(super) leak: Option<LeakKind>,
    /// The version that it is compared with.
    pub(super) against: Option<&'static str>,
    pub(super) planes: Vec<Vec<f32>>,
    pub(super) estimated_db: Option<f64>,
    pub(super) predicted_db: Option<f64>,
}

/// What the versions are made of.
pub(super) struct Song<'a> {
    pub(super) report: &'a Report,
    pub(super) parts: Option<(&'a Parts, &'a Shown)>,
    pub(super) before: Option<&'a BeforeMix>,
    /// Third octaves of the reference, dBFS.
    pub(super) reference: Option<[Option<f64>; THIRDS]>,
    /// Takes to hear in the guitars' places.
    pub(super) takes: &'a [PathBuf],
    /// The whole mix.
    pub(super) mix: &'a [Vec<f32>],
    pub(super) options: &'a Options,
}

/// The hits of a passage, frames from its start.
pub(super) struct Hits {
    /// All that end what surrounds a hit.
    pub(super) strokes: Vec<u64>,
    /// Those whose surroundings lie within the passage, by number.
    pub(super) counted: Vec<usize>,
}

impl Song<'_> {
    fn rate_hz(&self) -> f64 {
        self.report.mix.sample_rate_hz
    }

    /// First and last frame of a passage.
    pub(super) fn frames(&self, passage: &Passage) -> (usize, usize) {
        let last = self.mix.iter().map(Vec::len).min().unwrap_or(0);
        let frame = |s: f64| ((s * self.rate_hz()).round() as usize).min(last);
        (frame(passage.from_s), frame(passage.to_s))
    }

    /// Every hit of the mix, frames, with those that count by number.
    fn all_hits(&self) -> (Vec<u64>, Vec<usize>) {
        if let Some(heard) = self.parts.and_then(|(_, shown)| shown.heard.as_ref()) {
            return (heard.strokes.frames.clone(), heard.strokes.counted.clone());
        }
        let frames = self.report.hits.iter().map(|hit| (hit.time_s * self.rate_hz()) as u64);
        let frames: Vec<u64> = frames.collect();
        let all = (0..frames.len()).collect();
        (frames, all)
    }

    /// The hits of a passage.
    pub(super) fn hits(&self, (from, to): (usize, usize)) -> Hits {
        let (frames, counted) = self.all_hits();
        let (from, to) = (from as u64, to as u64);
        let first = frames.partition_point(|&at| at < from);
        let end = frames.partition_point(|&at| at < to);
        let ms = |ms: f64| (ms * 1e-3 * self.rate_hz()) as u64;
        // Fades count as little as what was cut off.
        let inner =
            from + ms(SURROUND_BEFORE_MS + 10.0)..to.saturating_sub(ms(SURROUND_AFTER_MS + 60.0));
        Hits {
            strokes: frames[first..end].iter().map(|at| at - from).collect(),
            counted: counted
                .into_iter()
                .filter(|&n| (first..end).contains(&n) && inner.contains(&frames[n]))
                .map(|n| n - first)
                .collect(),
        }
    }

    /// The versions of a passage, the mix first, and the causes that have none.
    pub(super) fn versions(&self, passage: &Passage) -> Result<(Vec<Draft>, Vec<LeftOut>), Error> {
        let span = self.frames(passage);
        let mut drafts = vec![self.draft("mix", say::MIX, say::MIX_WHAT, cut(self.mix, span))];
        let mut left_out = Vec::new();
        let readings = self.read(span);
        self.add_before(span, &readings, &mut drafts, &mut left_out);
        self.add_parts(span, &mut drafts, &mut left_out)?;
        match readings.leaks.mids.mending() {
            Some(mending) if self.worth(LeakKind::Mids, readings.leaks.mids.carry_db) => {
                let planes = self.mended(&mending, self.mix, span);
                drafts.push(Draft {
                    leak: Some(LeakKind::Mids),
                    against: Some("mix"),
                    predicted_db: readings.leaks.mids.carry_db,
                    ..self.draft("mids", say::MIDS, &say::mids_what(&mending), planes)
                });
            }
            _ => left_out.push(LeftOut::new(LeakKind::Mids, self.why_not(LeakKind::Mids))),
        }
        Ok((drafts, left_out))
    }

    pub(super) fn draft(
        &self,
        id: &'static str,
        name: &str,
        what: &str,
        planes: Vec<Vec<f32>>,
    ) -> Draft {
        Draft {
            id,
            name: name.to_owned(),
            what: what.to_owned(),
            leak: None,
            against: None,
            planes,
            estimated_db: None,
            predicted_db: None,
        }
    }

    /// Whether a leak is worth a version that gives back so much.
    fn worth(&self, leak: LeakKind, db: Option<f64>) -> bool {
        self.report.leak(leak).state.loses() || db.is_some_and(|db| db >= LEAST_DB)
    }

    fn why_not(&self, leak: LeakKind) -> &'static str {
        match self.report.leak(leak).state {
            State::Unknown if self.parts.is_none() && leak != LeakKind::Mids => say::NEEDS_PARTS,
            State::Unknown => say::UNKNOWN_HERE,
            _ => say::NOTHING,
        }
    }

    /// The passage through the meter, against the mix before the limiter and the reference where they
    /// are there.
    fn read(&self, (from, to): (usize, usize)) -> Readings {
        let config = Config { sample_rate_hz: self.rate_hz(), channels: self.mix.len() };
        let Ok(mut meter) = Meter::new(config) else { return Readings::default() };
        if let Some(thirds) = self.reference {
            meter.assume_reference(thirds);
        }
        let mut side = Vec::new();
        if let Some(before) = self.before {
            meter.set_side_role(SideRole::Before);
            if let Some(rest) = before.rest() {
                meter.assume_side_delay(rest);
            }
            before.beside(from as u64, to - from, &mut side);
        }
        let main: Vec<&[f32]> = self.mix.iter().map(|plane| &plane[from..to]).collect();
        let side: Vec<&[f32]> = side.iter().map(Vec::as_slice).collect();
        let side = (!side.is_empty()).then_some(&side[..]);
        meter.process(&main, side, &mut ());
        meter.finish(&mut ());
        *meter.readings()
    }

    fn add_before(
        &self,
        (from, to): (usize, usize),
        readings: &Readings,
        drafts: &mut Vec<Draft>,
        left_out: &mut Vec<LeftOut>,
    ) {
        let Some(before) = self.before.filter(|before| before.rest().is_some()) else {
            let why = if self.before.is_some() { say::NOT_THIS_MIX } else { say::NEEDS_BEFORE };
            return left_out.push(LeftOut::new(LeakKind::Ceiling, why));
        };
        let missing = to - from - before.covered(from, to);
        if missing as f64 > MISSING_S * self.rate_hz() {
            return left_out.push(LeftOut::new(LeakKind::Ceiling, say::NOT_COVERED));
        }
        let here = &readings.leaks.ceiling;
        let whole = &self.report.leaks.ceiling;
        // Too few hits here: what the whole song shows.
        let measured = (here.measured).then_some(here.cost).flatten().map(|cost| cost.db);
        let predicted_db = measured.or(whole.leak.cost_db);
        let mut planes = Vec::new();
        before.beside(from as u64, to - from, &mut planes);
        drafts.push(Draft {
            leak: Some(LeakKind::Ceiling),
            against: Some("mix"),
            predicted_db,
            ..self.draft("before", say::BEFORE, say::BEFORE_WHAT, planes)
        });
    }

    fn add_parts(
        &self,
        span: (usize, usize),
        drafts: &mut Vec<Draft>,
        left_out: &mut Vec<LeftOut>,
    ) -> Result<(), Error> {
        const OF_PARTS: [LeakKind; 3] = [LeakKind::Timing, LeakKind::Clutter, LeakKind::Drive];
        let known =
            self.parts.and_then(|(parts, shown)| Some((parts, shown, shown.heard.as_ref()?)));
        let Some((parts, shown, heard)) = known else {
            let why = if self.parts.is_some() { say::UNKNOWN_HERE } else { say::NEEDS_PARTS };
            left_out.extend(OF_PARTS.map(|leak| LeftOut::new(leak, why)));
            return Ok(());
        };
        let base = if heard.remix.is_sum() { "parts" } else { "mix" };
        if heard.remix.is_sum() {
            let planes = self.cut(heard.remix.mix(), span);
            drafts.push(self.draft("parts", say::PARTS, say::PARTS_WHAT, planes));
        }
        for leak in OF_PARTS {
            let (change, id, name) = match leak {
                LeakKind::Timing => (&heard.undone.timing, "timing", say::TIMING),
                LeakKind::Clutter => (&heard.undone.clutter, "clutter", say::CLUTTER),
                _ => (&heard.undone.drive, "drive", say::DRIVE),
            };
            let predicted_db = self.gain_here(gains(&shown.reading, leak), span);
            let Some(change) = change.as_ref().filter(|_| self.worth(leak, predicted_db)) else {
                left_out.push(LeftOut::new(leak, self.why_not_parts(leak, shown)));
                continue;
            };
            let planes = self.changed(&heard.remix, change, span);
            drafts.push(Draft {
                leak: Some(leak),
                against: Some(base),
                estimated_db: self.gain_here(gains(&shown.estimated, leak), span),
                predicted_db,
                ..self.draft(id, name, &what(leak, parts, &shown.reading), planes)
            });
        }
        self.add_take_b(span, base, (parts, shown), drafts)?;
        self.add_lower(span, base, (parts, shown), drafts)
    }

    fn why_not_parts(&self, leak: LeakKind, shown: &Shown) -> &'static str {
        let guitars = shown.reading.drive.worst.is_some();
        match leak {
            LeakKind::Drive if !guitars => say::NEEDS_GUITAR,
            _ => self.why_not(leak),
        }
    }

    /// The part that gives back most when it is turned down a little.
    fn add_lower(
        &self,
        span: (usize, usize),
        base: &'static str,
        (parts, shown): (&Parts, &Shown),
        drafts: &mut Vec<Draft>,
    ) -> Result<(), Error> {
        let tracks = &parts.session.tracks;
        let Some(heard) = &shown.heard else { return Ok(()) };
        let most = (0..tracks.len())
            .filter(|&part| tracks[part].role != PartRole::Drums)
            .filter_map(|part| Some((part, shown.reading.rows[part].if_3db_lower_db?)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((part, _)) = most.filter(|(_, db)| *db >= LEAST_DB) else { return Ok(()) };
        let mut change = heard.remix.unchanged();
        let gain = 10f64.powf(-LOWER_DB / 20.0) as f32 - 1.0;
        let fader = &heard.remix.faders()[part];
        fader.add(&parts.audio(part, self.options)?, gain, &mut change.audio);
        let gains = heard.remix.gains_at(heard.remix.gains_db(&change));
        let name = part_name(&tracks[part]);
        let planes = self.changed(&heard.remix, &change.audio, span);
        drafts.push(Draft {
            against: Some(base),
            predicted_db: self.gain_here(&gains, span),
            ..self.draft(
                "lower",
                &say::lower(&name, LOWER_DB),
                &say::lower_what(&name, LOWER_DB),
                planes,
            )
        });
        Ok(())
    }

    /// A passage with a change of tone, which has settled by its start.
    fn mended(
        &self,
        mending: &Mending,
        planes: &[Vec<f32>],
        span: (usize, usize),
    ) -> Vec<Vec<f32>> {
        let lead = (SETTLE_S * self.rate_hz()) as usize;
        let from = span.0.saturating_sub(lead);
        let mended = mending.audio(&cut(planes, (from, span.1)), self.rate_hz());
        cut(&mended, (span.0 - from, span.1 - from))
    }

    /// A passage of the mix with a change, left and right, in the channels of the mix.
    pub(super) fn changed(
        &self,
        remix: &Remix,
        change: &[Vec<f32>; 2],
        span: (usize, usize),
    ) -> Vec<Vec<f32>> {
        added(self.cut(remix.mix(), span), &self.cut(change, span))
    }

    /// A passage of left and right in the channels of the mix.
    fn cut(&self, both: &[Vec<f32>; 2], span: (usize, usize)) -> Vec<Vec<f32>> {
        cut(&both[..self.mix.len().clamp(1, 2)], span)
    }

    /// What the hits of a passage gain, dB, median.
    pub(super) fn gain_here(&self, gains: &[HitGain], (from, to): (usize, usize)) -> Option<f64> {
        let s = |frame: usize| frame as f64 / self.rate_hz();
        let inner = s(from) + SURROUND_BEFORE_MS * 1e-3..s(to) - SURROUND_AFTER_MS * 1e-3;
        let here: Vec<f64> =
            gains.iter().filter(|gain| inner.contains(&gain.time_s)).map(|gain| gain.db).collect();
        median(&here)
    }
}

/// What each hit would gain without a leak.
pub(super) fn gains(reading: &PartsReading, leak: LeakKind) -> &[HitGain] {
    match leak {
        LeakKind::Timing => &reading.timing.gains,
        LeakKind::Clutter => &reading.clutter.gains,
        LeakKind::Drive => &reading.drive.gains,
        LeakKind::Ceiling | LeakKind::Mids => &[],
    }
}

/// What was changed in the parts, in words.
fn what(leak: LeakKind, parts: &Parts, reading: &PartsReading) -> String {
    let tracks = &parts.session.tracks;
    let named = |chosen: &dyn Fn(usize) -> bool| -> Vec<String> {
        (0..tracks.len()).filter(|&n| chosen(n)).map(|n| part_name(&tracks[n])).collect()
    };
    let changed = |part: usize, mutes: bool| {
        reading
            .clutter
            .changes
            .iter()
            .any(|(other, change)| *other == part && (*change == Change::Mute) == mutes)
    };
    match leak {
        LeakKind::Timing => say::timing_what(&named(&|part| {
            tracks[part].role != PartRole::Drums && !reading.timing.strays[part].is_empty()
        })),
        LeakKind::Clutter => say::clutter_what(
            &named(&|part| changed(part, true)),
            &named(&|part| changed(part, false)),
        ),
        _ => say::drive_what(&named(&|part| {
            reading.drive.rows[part].saturation.is_some_and(|saturation| saturation.kept < 1.0)
        })),
    }
}

/// A passage of planes.
pub(super) fn cut(planes: &[Vec<f32>], (from, to): (usize, usize)) -> Vec<Vec<f32>> {
    planes
        .iter()
        .map(|plane| {
            let mut piece = plane[from.min(plane.len())..to.min(plane.len())].to_vec();
            piece.resize(to - from, 0.0);
            piece
        })
        .collect()
}

fn added(mut planes: Vec<Vec<f32>>, change: &[Vec<f32>]) -> Vec<Vec<f32>> {
    for (plane, change) in planes.iter_mut().zip(change) {
        plane.iter_mut().zip(change).for_each(|(x, change)| *x += change);
    }
    planes
}

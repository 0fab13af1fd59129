//! The JSON `brunt-check/1`: everything measured on one mix, written by the command line and by
//! the plug-in, and read back by whoever compares.
//!
//! Numbers are in the unit that their name ends in; `null` means *not known*. Fields may be added,
//! none is renamed: a reader skips names that it does not know, and takes an absent optional field
//! as not known.

mod codes;
mod compare;
mod comparison;
mod edits;
pub(crate) mod history;
mod leaks;
mod parts;
mod readings;
mod shape;
mod source;

pub use compare::{BandDifference, CompareReport, ThirdDifference};
pub use edits::{EditReport, Tempo};
pub use history::{FINE_POINTS, HistoryReport, MAX_POINTS, PART_LEAKS, Timeline};
pub use leaks::{
    CeilingReport, DriveReport, Headline, LeakReport, LeaksReport, MidsReport, TimingLeakReport,
};
pub use parts::{
    ArrangementReport, DeviationReport, DoubleReport, PartCeilingReport, PartCostsReport,
    PartReport, PassageReport, SummedReport, TimingReport,
};
pub use readings::{
    BalanceReport, HitReport, LoudnessReport, PunchReport, SmallSpeakerReport, ThirdReport,
};
pub use shape::{BandReport, DrumShape, DrumStrokes, ShapeReport, SpectrumReport};
pub use source::{Made, Source};

use brunt_engine::parts::buried::{Missed, percentiles};
use brunt_engine::parts::timing::Edit;
use brunt_engine::parts::{PartsReading, PlaceCosts, Session};
use brunt_engine::records::contrast_percentile;
use brunt_engine::{
    Hit, HitShape, InputHealth, LeakKind, Leaks, Need, Readings, State, Thresholds,
};
use serde::{Deserialize, Serialize};

use crate::bounds;
use crate::listener::{ListenerReport, Version, listener};
use crate::sections::{Section, forget_held, sections};
use crate::words;

/// Name and version of the JSON's form.
pub const SCHEMA: &str = "brunt-check/1";

/// Everything measured on one mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The program and the limits that made the report. Absent from reports of other makers.
    #[serde(default)]
    pub made: Option<Made>,
    /// Where the samples came from.
    pub mix: Source,
    /// The reading in one line.
    #[serde(default)]
    pub verdict: String,
    /// Loudness and peaks.
    pub loudness: LoudnessReport,
    /// Long-term balance.
    pub balance: BalanceReport,
    /// Hit contrast over all hits.
    pub punch: PunchReport,
    /// Hit contrast as a small speaker leaves it.
    #[serde(default)]
    pub small_speaker: SmallSpeakerReport,
    /// Every hit, in order of time.
    pub hits: Vec<HitReport>,
    /// What the listener gets at each loudness to which players bring songs. Empty without hits.
    #[serde(default)]
    pub listener: Vec<ListenerReport>,
    /// The five leaks.
    pub leaks: LeaksReport,
    /// Whether the sum of the parts stood for the mix.
    #[serde(default)]
    pub mix_is_sum: bool,
    /// The parts that were measured beside the mix.
    #[serde(default)]
    pub parts: Vec<PartReport>,
    /// What the parts together show of clutter and drive. `None` without parts.
    #[serde(default)]
    pub arrangement: Option<ArrangementReport>,
    /// What the parts together show of timing. `None` without parts.
    #[serde(default)]
    pub timing: Option<TimingReport>,
    /// The comparison with another version of the mix, or with a reference.
    #[serde(default)]
    pub compare: Option<CompareReport>,
    /// Loudness, hit contrast and costs over the programme. Absent where none was kept.
    #[serde(default)]
    pub history: Option<HistoryReport>,
    /// The sections of the song, as the history tells them; empty without one.
    #[serde(default)]
    pub sections: Vec<Section>,
    /// Whether the measuring code failed during the pass: nothing after that moment was measured.
    #[serde(default)]
    pub failed: bool,
    /// Samples of the input that were no audio.
    #[serde(default)]
    pub input: InputHealth,
}

impl Report {
    /// Puts together the readings of a finished measurement and its hits. The hits' times move by
    /// [`Source::from_s`].
    #[must_use]
    pub fn new(mix: Source, readings: &Readings, hits: &[Hit], thresholds: Thresholds) -> Self {
        let Readings {
            // The source tells how long it was.
            frames: _,
            time_s: _,
            loudness,
            balance,
            punch,
            small_speaker,
            leaks,
            input,
            // Of a moment, and no readings of the whole.
            punch_recent: _,
            ceiling_recent: _,
            // Whoever knows what was compared sets it.
            side: _,
            compare: _,
        } = readings;
        let loudness = LoudnessReport::from(loudness);
        let hits: Vec<HitReport> = hits.iter().map(|hit| HitReport::at(hit, mix.from_s)).collect();
        let version = Version::of(&loudness, &hits);
        let mut punch_report = PunchReport::from(*punch);
        if leaks.mids.need == Need::Mix {
            // A part alone is no record.
            punch_report.contrast_percentile = None;
        }
        Self {
            schema: SCHEMA.to_owned(),
            made: Some(Made {
                version: env!("CARGO_PKG_VERSION").to_owned(),
                watch_db: thresholds.watch_db,
                leaking_db: thresholds.leaking_db,
            }),
            verdict: words::verdict(readings),
            loudness,
            balance: BalanceReport::from(balance),
            punch: punch_report,
            small_speaker: SmallSpeakerReport::from(*small_speaker),
            hits,
            listener: version.map_or_else(Vec::new, |version| listener(&version, None)),
            leaks: LeaksReport::from(leaks),
            mix_is_sum: false,
            parts: Vec::new(),
            arrangement: None,
            timing: None,
            compare: None,
            history: None,
            sections: Vec::new(),
            failed: false,
            input: *input,
            mix,
        }
    }

    /// Adds what the parts show: a row each, and the leaks that the mix alone cannot show, beside those
    /// of the `mix`. Times move by [`Source::from_s`].
    pub fn set_parts(&mut self, session: &Session, reading: &PartsReading, mix: &Leaks) {
        let tracks = &session.tracks;
        self.parts = parts::rows(tracks, reading, self.mix.from_s);
        self.timing = Some(TimingReport::of(tracks, &reading.timing, self.mix.from_s));
        self.arrangement = Some(ArrangementReport::of(tracks, reading));
        let known = Leaks {
            timing: reading.timing.leak,
            clutter: reading.clutter.leak,
            drive: reading.drive.leak,
            ..*mix
        };
        let from_parts = LeaksReport::from(&known);
        let [timing, clutter, drive] = words::parts_say(tracks, reading);
        let told = |leak, (says, advice)| LeakReport { says, advice, ..leak };
        self.leaks.timing = TimingLeakReport {
            leak: told(from_parts.timing.leak.clone(), timing),
            ..from_parts.timing
        };
        self.leaks.clutter = told(from_parts.clutter, clutter);
        self.leaks.drive =
            DriveReport { leak: told(from_parts.drive.leak.clone(), drive), ..from_parts.drive };
        self.verdict = words::verdict_of(self.loudness.integrated_lufs, &self.punch, &known);
    }

    /// Adds the strokes of the drums that were not found in the mix, and counts them in the statistics
    /// of hit contrast. To be called once, where the drums' part is there, whatever was missed.
    pub fn add_missed(&mut self, missed: &[Missed]) {
        let (rate, from_s) = (self.mix.sample_rate_hz, self.mix.from_s);
        self.hits.iter_mut().for_each(|hit| hit.buried = Some(false));
        self.hits.extend(missed.iter().map(|missed| HitReport::missed(missed, rate, from_s)));
        self.hits.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        let contrasts: Vec<f64> = self.hits.iter().filter_map(|hit| hit.contrast_db).collect();
        let buried = missed.iter().filter(|missed| missed.is_buried()).count() as u64;
        let hits = self.hits.len() as u64;
        if !missed.is_empty()
            && let Some([p10, median, p90]) = percentiles(&contrasts)
        {
            self.punch.contrast_percentile = Some(contrast_percentile(median));
            let over_hits = &mut self.punch.over_hits;
            over_hits.contrast_db = Some(median);
            over_hits.contrast_p10_db = Some(p10);
            over_hits.contrast_p90_db = Some(p90);
        }
        self.punch.over_hits.hits = hits;
        self.punch.buried = Some(buried);
        self.punch.buried_share = (hits > 0).then(|| buried as f64 / hits as f64);
    }

    /// Adds the shapes of the mix's hits at the drums' own strokes. `shapes`: those of the mix's hits, in
    /// frames from the passage's start.
    pub fn set_drum_shapes(&mut self, session: &Session, shapes: &[HitShape]) {
        let rate_hz = self.mix.sample_rate_hz;
        self.punch.shape_by_drum = DrumShape::all(&session.tracks, shapes, rate_hz);
    }

    /// Adds the notes to move, with their bars where the tempo is known. After [`Self::set_parts`].
    pub fn set_edits(&mut self, session: &Session, edits: &[Edit], tempo: Option<&Tempo>) {
        let Some(timing) = &mut self.timing else { return };
        let all = EditReport::all(&session.tracks, edits, self.mix.from_s);
        let placed = |edit: EditReport| match tempo {
            Some(tempo) => edit.at(tempo),
            None => edit,
        };
        timing.edits = all.into_iter().map(placed).collect();
    }

    /// Adds what was read of the drums' own hits, by the part's place in the list. Where they lose what
    /// the mix does not show, verdict and advice say so; the mix's own state stays.
    pub fn set_part_ceiling(&mut self, part: usize, ceiling: PartCeilingReport) {
        let Some(part) = self.parts.get_mut(part) else { return };
        let mix = &mut self.leaks.ceiling.leak;
        if ceiling.state.loses()
            && !mix.state.loses()
            && !mix.advice.contains(words::EASE_THE_DRUMS)
        {
            mix.advice = words::ease_the_drums(mix.state, &mix.advice);
            self.verdict = format!("{} {}", self.verdict, words::drums_lose(mix.state));
        }
        part.ceiling = Some(ceiling);
    }

    /// Adds what the parts cost at each place to the history of a mix that they were measured beside,
    /// from its first frame to its last.
    pub fn set_part_history(&mut self, reading: &PartsReading) {
        let Some(history) = &mut self.history else { return };
        let (from_s, mut places) = (self.mix.from_s, PlaceCosts::default());
        places.take(reading, (0.0, self.mix.duration_s));
        history.set_part_costs(|from, to| places.around(from - from_s, to - from_s).costs_db());
    }

    /// The same with the history of the programme, whose times move by [`Source::from_s`].
    #[must_use]
    pub fn with_history(mut self, timeline: &Timeline) -> Self {
        self.history = HistoryReport::of(timeline, self.mix.from_s);
        self.sections = self.history.as_ref().map(sections).unwrap_or_default();
        if let Some(last) = self.sections.last_mut() {
            last.to_s = last.to_s.min(self.mix.from_s + self.mix.duration_s).max(last.from_s);
        }
        // Where not every hit is kept, a section without any is not known.
        if self.hits.len() as u64 == self.punch.over_hits.hits {
            forget_held(&mut self.sections, self.hits.iter().map(|hit| hit.time_s));
        }
        self
    }

    /// What counts of this version for a listener; `None` without loudness or hits.
    #[must_use]
    pub fn version(&self) -> Option<Version> {
        Version::of(&self.loudness, &self.hits)
    }

    /// Sets what the listener gets beside that of another version, such as the mix ahead of the
    /// limiter.
    pub fn set_before(&mut self, before: &Version) {
        if let Some(version) = self.version() {
            self.listener = listener(&version, Some(before));
        }
    }

    /// One leak's state, cost and sentences.
    #[must_use]
    pub fn leak(&self, kind: LeakKind) -> &LeakReport {
        self.leaks.get(kind)
    }

    /// The cost that a leak is shown with.
    #[must_use]
    pub fn headline(&self, kind: LeakKind) -> Headline {
        self.leaks.headline(kind)
    }

    /// The worst state among the leaks that are known.
    #[must_use]
    pub fn worst(&self) -> State {
        let states = LeakKind::ALL.into_iter().map(|kind| self.leak(kind).state);
        states.max().unwrap_or_default()
    }

    /// The report as indented JSON, ending in a line feed.
    ///
    /// # Errors
    /// Never for a report made by [`Report::new`]; the JSON writer's error otherwise.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }

    /// Reads a report back.
    ///
    /// # Errors
    /// When `text` is no JSON, lacks a field of the form, holds a number out of all proportion, or
    /// names another schema.
    pub fn from_json(text: &str) -> serde_json::Result<Self> {
        let value: serde_json::Value = serde_json::from_str(text)?;
        bounds::check(&value).map_err(serde::de::Error::custom)?;
        let report: Self = serde_json::from_str(text)?;
        if report.schema != SCHEMA {
            return Err(serde::de::Error::custom(format!(
                "schema \"{}\": expected \"{SCHEMA}\"",
                report.schema
            )));
        }
        Ok(report)
    }
}

#[cfg(test)]
mod tests;

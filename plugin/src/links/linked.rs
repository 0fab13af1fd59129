//! What an instance on the mix bus hears of the parts: for display and for the report.

use std::sync::Arc;

use brunt_engine::parts::timing::{Edit, Passage};
use brunt_engine::parts::{PartCosts, PartRole, PartsReading, PlaceCosts, RoleSuggestion, Session};
use brunt_engine::{LeakKind, Leaks, Need, PartLeak, State};
use brunt_report::report::{DrumStrokes, EditReport, PART_LEAKS, PartCeilingReport, Report};
use brunt_report::words::links;
use serde::{Deserialize, Serialize};

/// Who is there to be heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hearing {
    /// No other instance in this process: there is none, or the host runs each plug-in apart.
    Alone,
    /// There are others, and none has the role of a part.
    NoParts,
    /// There are parts, and none has been heard with a place in the song.
    NotHeard,
    /// Parts have been heard.
    Parts,
}

/// How one part stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum PartStatus {
    /// Nothing was heard of it with a place in the song, or nothing near where the others were heard last.
    #[default]
    Waiting,
    /// The host gives it no position in the song.
    NoPosition,
    /// It runs at another sample rate than the mix.
    OtherRate,
    /// It was silent in the passage.
    Silent,
    /// It was heard in the passage.
    Heard,
}

/// One part. Numbers are `None` while not known.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LinkedPart {
    /// The user's name, or that of the host's track; empty where there is neither.
    pub name: String,
    /// What it plays.
    pub role: PartRole,
    /// What it sounds like; `None` where that is not clear.
    pub suggested: Option<PartRole>,
    /// How it stands.
    pub status: PartStatus,
    /// Whether the others are read against it.
    pub reference: bool,
    /// Constant offset against the reference, ms; positive: late.
    pub offset_ms: Option<f64>,
    /// Spread around that offset, ms, standard deviation.
    pub spread_ms: Option<f64>,
    /// What it alone costs, dB of hit contrast.
    pub costs: PartCosts,
    /// The passages in which it strays most, worst first.
    pub passages: Vec<Passage>,
    /// How it strays from another take of the same, or its right from its left, a line each.
    pub doubles: Vec<String>,
    /// What a limiter or clipper takes from its own hits; drums only.
    pub ceiling: Option<PartCeilingReport>,
}

/// The sentences about one leak.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Said {
    /// The evidence.
    pub says: String,
    /// What to try first.
    pub advice: String,
}

/// What was read from the parts together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LinkedReading {
    /// Timing, clutter and drive.
    pub leaks: [PartLeak; 3],
    /// What is said of each.
    pub said: [Said; 3],
    /// The passage of the song that it was read from, s; `None` for a reading from a saved
    /// session.
    #[serde(skip)]
    pub passage_s: Option<(f64, f64)>,
    /// Everything, for the report, which a session has as it was made.
    #[serde(skip)]
    pub(crate) whole: Option<Whole>,
}

/// The tracks without their cells, and the reading. Two are equal when they stem from one reading.
#[derive(Clone, Debug)]
pub(crate) struct Whole {
    pub(crate) number: u64,
    pub(crate) session: Arc<Session>,
    pub(crate) reading: Arc<PartsReading>,
    /// Notes to move, the dearest, each with its bar where the host told bars.
    pub(crate) edits: Arc<Vec<(Edit, Option<i64>)>>,
    /// When the drums' parts have a kick or a snare, s from the start of the song.
    pub(crate) strokes: Arc<Vec<DrumStrokes>>,
}

impl PartialEq for Whole {
    fn eq(&self, other: &Self) -> bool {
        self.number == other.number
    }
}

/// What the parts cost at each place of the song, as each was heard last. Two are equal when they are
/// one, or both empty.
#[derive(Clone, Debug, Default)]
pub struct Places(Arc<PlaceCosts>);

impl Places {
    /// Takes what was read of a passage of the song, s.
    pub(super) fn take(&mut self, reading: &PartsReading, passage_s: (f64, f64)) {
        Arc::make_mut(&mut self.0).take(reading, passage_s);
    }
}

impl From<PlaceCosts> for Places {
    fn from(costs: PlaceCosts) -> Self {
        Self(Arc::new(costs))
    }
}

impl std::ops::Deref for Places {
    type Target = PlaceCosts;

    fn deref(&self) -> &PlaceCosts {
        &self.0
    }
}

impl PartialEq for Places {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || (self.is_empty() && other.is_empty())
    }
}

/// What an instance hears of the others. A session has what they showed; who is there, and what they
/// cost at each place, is of the day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Linked {
    /// Other instances in this process.
    #[serde(skip)]
    pub others: usize,
    /// What this instance itself sounds like, where it is a part and that is clear.
    #[serde(skip)]
    pub own: Option<RoleSuggestion>,
    /// The parts, drums first.
    pub parts: Vec<LinkedPart>,
    /// What was read; `None` while too little was heard.
    pub reading: Option<LinkedReading>,
    /// What the parts cost at each place.
    #[serde(skip)]
    pub places: Places,
}

impl Linked {
    /// Who is there to be heard.
    #[must_use]
    pub fn hearing(&self) -> Hearing {
        let heard = |part: &LinkedPart| matches!(part.status, PartStatus::Heard);
        if self.parts.iter().any(heard) {
            Hearing::Parts
        } else if !self.parts.is_empty() {
            Hearing::NotHeard
        } else if self.others > 0 {
            Hearing::NoParts
        } else {
            Hearing::Alone
        }
    }

    /// What is said of a leak; `None` where the parts have not shown it.
    #[must_use]
    pub fn said(&self, kind: LeakKind) -> Option<&Said> {
        let place = PART_LEAKS.iter().position(|k| *k == kind)?;
        self.reading.as_ref().map(|reading| &reading.said[place])
    }

    /// Puts what the parts have shown in the place of what the mix alone cannot show.
    pub fn fill(&self, leaks: &mut Leaks) {
        if let Some(reading) = &self.reading {
            [leaks.timing, leaks.clutter, leaks.drive] = reading.leaks;
        }
    }

    /// What a session keeps: the parts that were heard, once something was read.
    #[must_use]
    pub fn kept(&self) -> Self {
        let Some(reading) = &self.reading else { return Self::default() };
        let LinkedReading { leaks, said, passage_s: _, whole: _ } = reading.clone();
        let reading = LinkedReading { leaks, said, ..LinkedReading::default() };
        let heard = self.parts.iter().filter(|part| part.status == PartStatus::Heard);
        Self { parts: heard.cloned().collect(), reading: Some(reading), ..Self::default() }
    }

    /// Says in a report why parts that are linked show nothing, where none of them was heard.
    pub fn say_unheard(&self, report: &mut Report) {
        if self.hearing() != Hearing::NotHeard {
            return;
        }
        let no_position = self.parts.iter().any(|part| part.status == PartStatus::NoPosition);
        let says = if no_position { links::LINKED_NO_POSITION } else { links::LINKED_NOT_HEARD };
        let leaks = &mut report.leaks;
        for leak in [&mut leaks.timing.leak, &mut leaks.clutter, &mut leaks.drive.leak] {
            if matches!(leak.need, Some(Need::Parts | Need::GuitarPart)) {
                says.clone_into(&mut leak.says);
            }
        }
    }

    /// Adds what the parts have shown to a report, beside the leaks of the `mix`. Each part keeps at most
    /// `onsets` onsets, the newest.
    pub fn add_to(&self, report: &mut Report, mix: &Leaks, onsets: usize) {
        let Some(whole) = self.reading.as_ref().and_then(|reading| reading.whole.as_ref()) else {
            return;
        };
        report.set_parts(&whole.session, &whole.reading, mix);
        if let Some(timing) = &mut report.timing {
            let edits: Vec<Edit> = whole.edits.iter().map(|(edit, _)| *edit).collect();
            timing.edits = EditReport::all(&whole.session.tracks, &edits, 0.0);
            for (edit, (_, bar)) in timing.edits.iter_mut().zip(whole.edits.iter()) {
                edit.bar = *bar;
            }
        }
        let heard = self.parts.iter().filter(|part| part.status == PartStatus::Heard);
        for (index, part) in heard.enumerate() {
            if let Some(ceiling) = &part.ceiling {
                report.set_part_ceiling(index, ceiling.clone());
            }
        }
        for part in &mut report.parts {
            let surplus = part.onsets_s.len().saturating_sub(onsets);
            part.onsets_s.drain(..surplus);
        }
    }
}

impl LinkedPart {
    /// What it sounds like, where that is another role than it was given; a part that is given as
    /// *other* may be anything.
    #[must_use]
    pub fn doubted(&self) -> Option<PartRole> {
        self.suggested.filter(|role| *role != self.role && self.role != PartRole::Other)
    }

    /// The leak through which it costs most, and how much, dB; `None` where no cost is known.
    #[must_use]
    pub fn dearest(&self) -> Option<(LeakKind, f64)> {
        let costs = [self.costs.timing_db, self.costs.clutter_db, self.costs.drive_db];
        let known = PART_LEAKS.into_iter().zip(costs).filter_map(|(kind, db)| Some((kind, db?)));
        known.max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The state that its dearest leak has by the limits `watch_db` and `leaking_db`, or that of the
    /// ceiling over its own hits, whichever is worse.
    #[must_use]
    pub fn state(&self, watch_db: f64, leaking_db: f64) -> State {
        let ceiling = self.ceiling.as_ref().map_or(State::Unknown, |ceiling| ceiling.state);
        let dearest = match self.dearest() {
            None => State::Unknown,
            Some((_, db)) if db >= leaking_db => State::Leaking,
            Some((_, db)) if db >= watch_db => State::Watch,
            Some(_) => State::Clear,
        };
        ceiling.max(dearest)
    }
}

//! The parts in the JSON: one row each, and what their timing shows.
//!
//! What is taken from the engine is taken apart field by field: a reading that is new there does not
//! compile until it is carried here, or said not to be.

use brunt_engine::parts::clutter::{Clutter, ClutterRow};
use brunt_engine::parts::drive::{Drive, DriveRow, NoteReading};
use brunt_engine::parts::timing::{Deviation, Double, Passage, Summed, TimingReading};
use brunt_engine::parts::{PartCosts, PartRole, PartRow, PartTrack, PartsReading};
use brunt_engine::{Ceiling, CeilingKind, Cost, InputHealth, LeakKind, Leaks, State};
use serde::{Deserialize, Serialize};

use super::EditReport;
use super::codes;
use crate::words::{double_says, links, role_doubt, role_says, says};

/// One part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PartReport {
    /// `drums`, `bass`, `guitars`, `vocals` or `other`.
    pub role: String,
    /// What the part sounds like: a role as above, whatever it was given as; `null` where that is
    /// not clear.
    #[serde(default)]
    pub role_suggested: Option<String>,
    /// How sure that is, and why.
    #[serde(default)]
    pub role_says: Option<String>,
    /// The file as the user named it.
    pub file: String,
    /// Whether it is silent throughout: it rests here, and takes part in no reading.
    #[serde(default)]
    pub silent: bool,
    /// Times of the part's onsets, s from the file's start.
    pub onsets_s: Vec<f64>,
    /// Constant offset against the reference part, ms, late positive.
    pub offset_ms: Option<f64>,
    /// Spread around the offset, ms, standard deviation.
    pub spread_ms: Option<f64>,
    /// Share of the events off by more than 2 ms that are early, 0 to 1.
    pub early_share: Option<f64>,
    /// Onsets shared with the drums over onsets of either, 0 to 1.
    pub shared_onset_ratio: Option<f64>,
    /// How full the space between hits is, 0 to 1.
    pub sustain_ratio: Option<f64>,
    /// Drop from a note's attack to its sustained part, dB.
    pub attack_to_sustain_db: Option<f64>,
    /// Share of its onsets that no drum hit has, 0 to 1.
    #[serde(default)]
    pub own_rhythm: Option<f64>,
    /// Share of the main hits that it holds through without striking, 0 to 1.
    #[serde(default)]
    pub held_share: Option<f64>,
    /// How far its loud moments stand out, dB: level spread; falls as gain rises. Guitars only.
    #[serde(default)]
    pub level_spread_db: Option<f64>,
    /// Attack that it has lost to gain, dB, as in the drive leak. Guitars only.
    #[serde(default)]
    pub attack_lost_db: Option<f64>,
    /// Crest factor of a note, dB. Guitars only.
    #[serde(default)]
    pub crest_db: Option<f64>,
    /// Spectral fill: power above 4 kHz over that from 200 Hz to 4 kHz in the sustain, dB. Guitars
    /// only.
    #[serde(default)]
    pub fill_db: Option<f64>,
    /// What this part alone costs through each leak, dB of hit contrast.
    pub leak_costs_db: PartCostsReport,
    /// What the mix's hits gain when the part is muted, dB of hit contrast, median over hits; negative
    /// where it carries them.
    #[serde(default)]
    pub if_muted_db: Option<f64>,
    /// The same when it is 3 dB lower.
    #[serde(default)]
    pub if_3db_lower_db: Option<f64>,
    /// What a limiter or clipper takes from its own hits, told from this part alone; drums only. By
    /// files of the whole passage, in the plug-in since the drums' instance was last reset.
    #[serde(default)]
    pub ceiling: Option<PartCeilingReport>,
    /// Its samples that were no audio; they were measured as silence. Absent where they were not
    /// counted, as in the plug-in.
    #[serde(default)]
    pub input: Option<InputHealth>,
    /// Its timing in detail; `null` for the reference and where too few events are shared.
    #[serde(default)]
    pub timing: Option<DeviationReport>,
}

/// The ceiling of one part, as in [`Ceiling`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PartCeilingReport {
    /// `unknown`, `clear`, `watch` or `leaking`.
    #[serde(with = "codes::state")]
    pub state: State,
    /// `none`, `limiter` or `clipper`; `null` while unknown.
    #[serde(with = "codes::kind")]
    pub kind: Option<CeilingKind>,
    /// Implied gain reduction at its hits, dB, median over hits.
    pub implied_reduction_db: Option<f64>,
    /// Lower end of its 90 % range, dB.
    pub implied_reduction_low_db: Option<f64>,
    /// Upper end of its 90 % range, dB.
    pub implied_reduction_high_db: Option<f64>,
    /// The reduction's 90th percentile over hits, dB.
    pub implied_reduction_p90_db: Option<f64>,
    /// The evidence in one line.
    pub says: String,
}

impl PartCeilingReport {
    /// What is taken from its own hits, as short as it goes; `None` where that costs next to nothing or
    /// is not known.
    #[must_use]
    pub fn taken(&self) -> Option<String> {
        links::taken(self.state, self.kind, self.implied_reduction_db)
    }
}

impl From<&Ceiling> for PartCeilingReport {
    fn from(ceiling: &Ceiling) -> Self {
        // While it is not known whether there is a ceiling, its numbers say nothing.
        let known = ceiling.kind.is_some();
        let range = ceiling.implied_reduction_range_db.filter(|_| known);
        Self {
            state: ceiling.state,
            kind: ceiling.kind,
            implied_reduction_db: ceiling.implied_reduction_db.filter(|_| known),
            implied_reduction_low_db: range.map(|(low, _)| low),
            implied_reduction_high_db: range.map(|(_, high)| high),
            implied_reduction_p90_db: ceiling.implied_reduction_p90_db.filter(|_| known),
            says: says(&Leaks { ceiling: *ceiling, ..Leaks::default() }, LeakKind::Ceiling),
        }
    }
}

/// What one part costs, dB of hit contrast.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PartCostsReport {
    /// Through its timing.
    pub timing: Option<f64>,
    /// Through what it plays between the hits.
    pub clutter: Option<f64>,
    /// Through its gain.
    pub drive: Option<f64>,
}

/// How a part strays, with ranges. Ranges hold 90 %.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DeviationReport {
    /// Shared events.
    pub shared: usize,
    /// Constant offset, ms.
    pub offset_ms: f64,
    /// Half of the offset's range, ms.
    pub offset_range_ms: f64,
    /// Spread, ms.
    pub spread_ms: f64,
    /// Lower end of the spread's range, ms.
    pub spread_low_ms: f64,
    /// Upper end of the spread's range, ms.
    pub spread_high_ms: f64,
    /// Share of the events that are off that are early, 0 to 1.
    pub early_share: Option<f64>,
    /// Drift, ms a minute.
    pub drift_ms_a_minute: Option<f64>,
    /// Half of the drift's range, ms a minute.
    pub drift_range_ms_a_minute: Option<f64>,
    /// The passages that stray most, worst first.
    pub passages: Vec<PassageReport>,
}

/// A passage that strays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PassageReport {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Number of the bar that it starts in, the song's first counted as 1, as the host's transport
    /// told it; `null` where no host told bars. What lies within 50 ms of a bar line counts as on the
    /// side that the passage has more of.
    #[serde(default)]
    pub from_bar: Option<i64>,
    /// Number of the bar that it ends in, not less than `from_bar`; `null` with it.
    #[serde(default)]
    pub to_bar: Option<i64>,
    /// Offset there, ms.
    pub offset_ms: f64,
    /// Spread there, ms.
    pub spread_ms: f64,
    /// Shared events there.
    pub shared: usize,
}

/// What the parts together show of clutter and drive.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ArrangementReport {
    /// Parts other than drums that sound at a main hit, mean over hits.
    pub layers_at_hits: Option<f64>,
    /// File of the part to thin out first; `null` where none costs anything.
    pub thin_out: Option<String>,
    /// Share of the guitars in the mid band's power of all parts at the main hits, 0 to 1.
    pub guitar_mid_share: Option<f64>,
}

impl ArrangementReport {
    pub(super) fn of(tracks: &[PartTrack], reading: &PartsReading) -> Self {
        let Clutter {
            // Among the leaks.
            leak: _,
            // In the history.
            gains: _,
            // In the parts' rows.
            rows: _,
            layers_at_hits,
            worst,
            // What the sentences are made of.
            own_rhythms: _,
            reason: _,
            changes: _,
        } = &reading.clutter;
        // As above; the worst guitar is named in the sentences.
        let Drive { leak: _, gains: _, hits_need: _, rows: _, mid_share, worst: _ } =
            &reading.drive;
        Self {
            layers_at_hits: *layers_at_hits,
            thin_out: worst.map(|part| tracks[part].name.clone()),
            guitar_mid_share: *mid_share,
        }
    }
}

/// What the parts together show of timing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TimingReport {
    /// File of the part that the others are read against.
    pub reference: Option<String>,
    /// Files of other drums whose hits count with its own where it has none. Absent where there are none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reference_joined: Vec<String>,
    /// Hit contrast that would come back without the spread alone, dB.
    pub spread_cost_db: Option<f64>,
    /// Hit contrast that would come back without the offsets alone, dB.
    pub offset_cost_db: Option<f64>,
    /// What the summed attacks of the parts but the drums would gain.
    pub summed: SummedReport,
    /// Parts of one role, and left and right of one part, against each other.
    pub doubles: Vec<DoubleReport>,
    /// Notes to move, the dearest first. Absent where they were not worked out.
    #[serde(default)]
    pub edits: Vec<EditReport>,
}

/// What summed attacks would gain, dB: K-weighted level of their loudest 10 ms.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SummedReport {
    /// Hits at which two parts or more play.
    pub hits: usize,
    /// Without the spread.
    pub spread_db: Option<f64>,
    /// Without the offsets.
    pub offset_db: Option<f64>,
    /// Without both, and the ends of its 90 % range.
    pub both_db: Option<f64>,
    /// Lower end.
    pub both_low_db: Option<f64>,
    /// Upper end.
    pub both_high_db: Option<f64>,
}

/// Two takes of one riff.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DoubleReport {
    /// File of the first.
    pub first: String,
    /// File of the second; the same for left against right of one file.
    pub second: String,
    /// Deviation of the second from the first.
    pub timing: DeviationReport,
    /// What the sum of the two would gain.
    pub summed: SummedReport,
    /// That in one line.
    #[serde(default)]
    pub says: String,
}

/// One row a part; times move by `from_s`.
pub(super) fn rows(tracks: &[PartTrack], reading: &PartsReading, from_s: f64) -> Vec<PartReport> {
    let row = |part| PartReport::of(&tracks[part], reading, part, from_s);
    (0..reading.rows.len()).map(row).collect()
}

impl PartReport {
    /// What is said where the part sounds like another role than it was given; `None` where both
    /// agree, where the role is *other*, which may be anything, and where its sound is not clear.
    #[must_use]
    pub fn doubt(&self) -> Option<String> {
        let (suggested, says) = (self.role_suggested.as_ref()?, self.role_says.as_ref()?);
        let other = PartRole::Other.code();
        (self.role != *suggested && self.role != other).then(|| role_doubt(&self.role, says))
    }

    fn of(track: &PartTrack, reading: &PartsReading, part: usize, from_s: f64) -> Self {
        let PartRow {
            offset_ms,
            spread_ms,
            early_share,
            shared_onset_ratio,
            sustain_ratio,
            attack_to_sustain_db,
            costs,
            if_muted_db,
            if_3db_lower_db,
            suggested,
        } = &reading.rows[part];
        let ClutterRow {
            // In the row above.
            shared_onset_ratio: _,
            sustain_ratio: _,
            cost: _,
            own_rhythm,
            held_share,
            // What a sentence is made of.
            lock: _,
        } = reading.clutter.rows[part];
        // The cost is in the row above; what saturation took is asked of the row as a whole.
        let DriveRow { notes, level_spread_db, saturation: _, cost: _ } = reading.drive.rows[part];
        // The drop is in the row above, where the notes are held.
        let fill = |notes: NoteReading| {
            let NoteReading { drop_db: _, held: _, notes: _, crest_db, fill_db } = notes;
            (crest_db, fill_db)
        };
        let (crest_db, fill_db) = notes.map(fill).unzip();
        Self {
            role: track.role.code().to_owned(),
            role_suggested: suggested.map(|suggested| suggested.role.code().to_owned()),
            role_says: suggested.as_ref().map(role_says),
            file: track.name.clone(),
            // A linked part that rests is not among the tracks; those that are have let go of their cells.
            silent: !track.cells.is_empty() && track.is_silent(),
            onsets_s: track.onsets.iter().map(|o| track.onset_time_s(o) + from_s).collect(),
            offset_ms: *offset_ms,
            spread_ms: *spread_ms,
            early_share: *early_share,
            shared_onset_ratio: *shared_onset_ratio,
            sustain_ratio: *sustain_ratio,
            attack_to_sustain_db: *attack_to_sustain_db,
            own_rhythm,
            held_share,
            level_spread_db,
            attack_lost_db: reading.drive.rows[part].attack_lost().map(|lost| lost.db),
            crest_db,
            fill_db,
            leak_costs_db: PartCostsReport::of(*costs),
            if_muted_db: *if_muted_db,
            if_3db_lower_db: *if_3db_lower_db,
            // Whoever heard the drums alone sets it.
            ceiling: None,
            // Whoever read its file sets it.
            input: None,
            timing: reading.timing.parts[part].as_ref().map(|d| DeviationReport::of(d, from_s)),
        }
    }
}

impl PartCostsReport {
    fn of(costs: PartCosts) -> Self {
        let PartCosts { timing_db: timing, clutter_db: clutter, drive_db: drive } = costs;
        Self { timing, clutter, drive }
    }
}

impl DeviationReport {
    fn of(d: &Deviation, from_s: f64) -> Self {
        let Deviation {
            shared,
            offset_ms,
            offset_range_ms,
            spread_ms,
            spread_range_ms: (spread_low_ms, spread_high_ms),
            early_share,
            // What a sentence and the state are made of.
            audible_share: _,
            played: _,
            drift_ms_a_minute,
            passages,
        } = d;
        let (drift, drift_range) = drift_ms_a_minute.unzip();
        Self {
            shared: *shared,
            offset_ms: *offset_ms,
            offset_range_ms: *offset_range_ms,
            spread_ms: *spread_ms,
            spread_low_ms: *spread_low_ms,
            spread_high_ms: *spread_high_ms,
            early_share: *early_share,
            drift_ms_a_minute: drift,
            drift_range_ms_a_minute: drift_range,
            passages: passages.iter().map(|p| PassageReport::of(p, from_s)).collect(),
        }
    }

    /// Its passages, as the engine has them.
    pub fn passages(&self) -> impl Iterator<Item = Passage> + '_ {
        self.passages.iter().map(|p| Passage {
            from_s: p.from_s,
            to_s: p.to_s,
            offset_ms: p.offset_ms,
            spread_ms: p.spread_ms,
            shared: p.shared,
            bars: p.from_bar.map(|from| (from, p.to_bar.unwrap_or(from).max(from))),
        })
    }
}

impl PassageReport {
    fn of(passage: &Passage, at_s: f64) -> Self {
        let Passage { from_s, to_s, offset_ms, spread_ms, shared, bars } = *passage;
        let (from_bar, to_bar) = bars.unzip();
        Self {
            from_s: from_s + at_s,
            to_s: to_s + at_s,
            from_bar,
            to_bar,
            offset_ms,
            spread_ms,
            shared,
        }
    }
}

impl TimingReport {
    pub(super) fn of(tracks: &[PartTrack], timing: &TimingReading, from_s: f64) -> Self {
        let TimingReading {
            // Among the leaks.
            leak: _,
            reference,
            joined,
            // In the parts' rows, with what each costs.
            parts: _,
            part_costs_db: _,
            // What the sentences are made of.
            beyond_ms: _,
            struck: _,
            spread_cost,
            offset_cost,
            // In the history.
            gains: _,
            summed,
            // What the notes to move are made of.
            strays: _,
            doubles,
        } = timing;
        let file = |index: usize| tracks[index].name.clone();
        let double = |double: &Double| {
            let Double { first, second, deviation, summed } = double;
            DoubleReport {
                first: file(*first),
                second: file(*second),
                timing: DeviationReport::of(deviation, from_s),
                summed: SummedReport::of(summed),
                says: double_says(tracks, double),
            }
        };
        Self {
            reference: reference.map(file),
            reference_joined: joined.iter().copied().map(file).collect(),
            spread_cost_db: spread_cost.map(|c| c.db),
            offset_cost_db: offset_cost.map(|c| c.db),
            summed: SummedReport::of(summed),
            doubles: doubles.iter().map(double).collect(),
            edits: Vec::new(),
        }
    }
}

impl SummedReport {
    fn of(summed: &Summed) -> Self {
        let Summed { spread, offset, both, hits } = *summed;
        let db = |cost: Option<Cost>| cost.map(|c| c.db);
        Self {
            hits,
            spread_db: db(spread),
            offset_db: db(offset),
            both_db: db(both),
            both_low_db: both.map(|c| c.low_db),
            both_high_db: both.map(|c| c.high_db),
        }
    }
}

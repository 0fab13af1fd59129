//! The drive leak: more gain than a guitar needs flattens each note from its attack on.
//!
//! The reading is the attack-to-sustain drop of the notes that last: gain lifts the sustain and
//! not the attack, so the drop falls as the gain rises, at any level ([`notes`]). For the cost
//! every note is given the drop of [`l::DROP_WANTED_DB`] and the part brought back to its loudness:
//! less gain, more level.

mod notes;

pub use notes::{Held, NoteReading, level_spread_db, read_notes};

use super::clutter::state;
use super::cost::{Arrangement, cost};
use super::{PartRole, PartTrack};
use crate::thresholds::arrangement as l;
use crate::{Cost, Need, PartLeak, Thresholds};

/// The drive of a session's guitars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drive {
    /// State and cost of all guitars together.
    pub leak: PartLeak,
    /// One row a part; empty rows for parts that are no guitars.
    pub rows: Vec<DriveRow>,
    /// Share of the guitars in the mid band's power of all parts at the main hits, 0 to 1.
    pub mid_share: Option<f64>,
    /// The guitar whose gain costs most, by number. `None` where none costs anything.
    pub worst: Option<usize>,
}

/// What one guitar part shows. `None` is *not known*.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DriveRow {
    /// What its notes say; `None` where there are too few.
    pub notes: Option<NoteReading>,
    /// How far its loud moments stand over its usual level, dB: see [`level_spread_db`].
    pub level_spread_db: Option<f64>,
    /// Cost of this part's gain alone, dB of hit contrast, with its range.
    pub cost: Option<Cost>,
}

impl DriveRow {
    /// Attack-to-sustain drop, dB, of notes that last; `None` where all are muted or short, since
    /// such notes fall by themselves.
    #[must_use]
    pub fn drop_db(&self) -> Option<f64> {
        self.notes.filter(|notes| notes.held == Held::Held).map(|notes| notes.drop_db)
    }
}

/// Reads the drive of a session; `tracks` are those of the arrangement.
#[must_use]
pub fn read(arrangement: &Arrangement, tracks: &[PartTrack], limits: &Thresholds) -> Drive {
    let guitar = |part: usize| tracks[part].role == PartRole::Guitars;
    let mut drive = Drive { rows: vec![DriveRow::default(); tracks.len()], ..Drive::default() };
    if !(0..tracks.len()).any(guitar) {
        drive.leak.need = Need::GuitarPart;
        return drive;
    }
    for part in (0..tracks.len()).filter(|&part| guitar(part)) {
        drive.rows[part].notes = read_notes(&tracks[part]);
        drive.rows[part].level_spread_db = level_spread_db(&tracks[part]);
    }
    drive.mid_share = mid_share(arrangement, tracks);
    let main = arrangement.main_hits().len();
    if main < l::LEAST_MAIN_HITS {
        drive.leak.need = Need::Hits { have: main as u32, want: l::LEAST_MAIN_HITS as u32 };
        return drive;
    }
    let known: Vec<(usize, f64)> = (0..tracks.len())
        .filter_map(|part| drive.rows[part].drop_db().map(|drop_db| (part, drop_db)))
        .collect();
    if known.is_empty() {
        let have = tracks.iter().filter(|t| t.role == PartRole::Guitars).map(notes::lasting).max();
        drive.leak.need =
            Need::Notes { have: have.unwrap_or(0) as u32, want: l::LEAST_NOTES as u32 };
        return drive;
    }
    let mut changes = Vec::new();
    for (part, drop_db) in known {
        let change = (part, with_less_gain(arrangement, part, drop_db));
        drive.rows[part].cost = arrangement.cost(std::slice::from_ref(&change));
        changes.push(change);
    }
    let total = cost(&arrangement.gains_db(&changes)).unwrap_or_default();
    let own = |part: usize| drive.rows[part].cost.map_or(0.0, |cost| cost.db);
    drive.worst = (0..tracks.len())
        .filter(|&part| own(part) > 0.0)
        .max_by(|&a, &b| own(a).total_cmp(&own(b)));
    drive.leak = PartLeak { state: state(&total, limits), need: Need::Nothing, cost: Some(total) };
    drive
}

/// A guitar's power with a drop of [`l::DROP_WANTED_DB`] instead of `drop_db`, at its own mean
/// power; unchanged where the drop is there. A note's drop grows with time, as a plucked string
/// falls by so many dB a second, up to [`l::DROP_GROWS_MS`].
#[must_use]
pub fn with_less_gain(arrangement: &Arrangement, part: usize, drop_db: f64) -> Vec<f32> {
    let mut power = arrangement.power(part).to_vec();
    let missing_db = l::DROP_WANTED_DB - drop_db;
    if missing_db <= 0.0 {
        return power;
    }
    let onsets = arrangement.onsets(part);
    let before: f64 = power.iter().map(|&p| f64::from(p)).sum();
    for (number, &at) in onsets.iter().enumerate() {
        let from = at as usize;
        let to = onsets.get(number + 1).map_or(power.len(), |&next| next as usize);
        for (age, power) in power.iter_mut().take(to).skip(from).enumerate() {
            let age_ms = (age as f64 * arrangement.cell_ms()).min(l::DROP_GROWS_MS);
            let less_db = missing_db * age_ms / l::SUSTAIN_AT_MS[0] as f64;
            *power *= 10f64.powf(-less_db / 10.0) as f32;
        }
    }
    let after: f64 = power.iter().map(|&p| f64::from(p)).sum();
    let level = if after > 0.0 { (before / after) as f32 } else { 1.0 };
    power.iter_mut().for_each(|power| *power *= level);
    power
}

/// See [`Drive::mid_share`].
fn mid_share(arrangement: &Arrangement, tracks: &[PartTrack]) -> Option<f64> {
    let (mut guitars, mut all) = (0.0f64, 0.0f64);
    for hit in arrangement.main_hits() {
        for (part, track) in tracks.iter().enumerate() {
            let start = (hit as usize).saturating_sub(arrangement.start(part));
            let cells = track.cells.iter().skip(start).take(super::sum::HIT_CELLS);
            let mid: f64 = cells.map(|cell| f64::from(cell.bands[1])).sum();
            all += mid;
            if track.role == PartRole::Guitars {
                guitars += mid;
            }
        }
    }
    (all > 0.0).then(|| guitars / all)
}

/// Two takes of one riff. Levels do not matter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Takes {
    /// Level spread of A and of B, dB (see [`level_spread_db`]).
    pub level_spread_db: (f64, f64),
    /// What the notes of A and of B say, read in one way; `None` where one has too few that last.
    pub notes: Option<(NoteReading, NoteReading)>,
    /// How much more attack A has than B, dB: its attack-to-sustain drop less that of B, where
    /// both have one and it tells the same way as the level spread; else its level spread less
    /// that of B.
    pub more_attack_db: f64,
}

/// Compares two takes. `None` where one plays for less than 2 s.
#[must_use]
pub fn compare(a: &PartTrack, b: &PartTrack) -> Option<Takes> {
    let spread = (level_spread_db(a)?, level_spread_db(b)?);
    let notes = notes::read_alike(a, b);
    let by_spread = spread.0 - spread.1;
    let by_notes = notes.map(|(a, b)| a.drop_db - b.drop_db);
    let more_attack_db =
        by_notes.filter(|by_notes| by_notes * by_spread > 0.0).unwrap_or(by_spread);
    Some(Takes { level_spread_db: spread, notes, more_attack_db })
}

impl Takes {
    /// Whether the difference is more than [`l::TAKES_DIFFER_DB`].
    #[must_use]
    pub fn differ(&self) -> bool {
        self.more_attack_db.abs() >= l::TAKES_DIFFER_DB
    }
}

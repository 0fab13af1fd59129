//! The drive leak: more gain than a guitar needs flattens each note from its attack on.
//!
//! The reading is the attack-to-sustain drop of the notes that last: gain lifts the sustain and
//! not the attack, so the drop falls as the gain rises, at any level ([`notes`]). For the cost
//! the notes of a guitar that drops by less than [`l::DROP_WANTED_DB`] are given a drop of
//! [`l::DROP_LESS_GAIN_DB`] and the part is brought back to its loudness: less gain, more level.

mod notes;

pub use notes::{Held, NoteReading, level_spread_db, read_notes};

use super::clutter::state;
use super::cost::{Arrangement, cost};
use super::{HitGain, PartRole, PartTrack};
use crate::thresholds::arrangement as l;
use crate::{Cost, Need, PartLeak, Thresholds};

/// The drive of a session's guitars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drive {
    /// State and cost of all guitars together.
    pub leak: PartLeak,
    /// What each main hit would get back with less gain: the cost is their mean.
    pub gains: Vec<HitGain>,
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
        let guitars = tracks.iter().filter(|track| track.role == PartRole::Guitars);
        let (have, want) = notes::nearest(guitars.map(notes::lasting));
        drive.leak.need = Need::Notes { have: have as u32, want: want as u32 };
        return drive;
    }
    let mut changes = Vec::new();
    for (part, drop_db) in known {
        let change = (part, with_less_gain(arrangement, part, drop_db));
        drive.rows[part].cost = arrangement.cost(std::slice::from_ref(&change));
        changes.push(change);
    }
    let gains_db = arrangement.gains_db(&changes);
    drive.gains = arrangement.gains_at(&gains_db);
    let total = cost(&gains_db).unwrap_or_default();
    drive.leak.cost = Some(total);
    drive.judge(limits);
    drive
}

impl Drive {
    /// Sets state and worst part from the costs.
    pub fn judge(&mut self, limits: &Thresholds) {
        let Some(total) = self.leak.cost else { return };
        let own = |part: usize| self.rows[part].cost.map_or(0.0, |cost| cost.db);
        self.worst = (0..self.rows.len())
            .filter(|&part| own(part) > 0.0)
            .max_by(|&a, &b| own(a).total_cmp(&own(b)));
        self.leak.need = Need::Nothing;
        self.leak.state = state(&total, limits);
    }
}

/// The power that a part would have with less gain, cell by cell of the arrangement; `None` where
/// nothing changes or it is not known. What the re-measured cost takes out.
#[must_use]
pub fn less_gain(arrangement: &Arrangement, drive: &Drive, part: usize) -> Option<Vec<f32>> {
    let drop_db = drive.rows.get(part)?.drop_db()?;
    (drop_db < l::DROP_WANTED_DB).then(|| with_less_gain(arrangement, part, drop_db))
}

/// A guitar's power with a drop of [`l::DROP_LESS_GAIN_DB`] instead of `drop_db`, at its own mean
/// power; unchanged where the drop is [`l::DROP_WANTED_DB`] or more. A note's drop grows with time, as a plucked string
/// falls by so many dB a second, up to [`l::DROP_GROWS_MS`].
#[must_use]
pub fn with_less_gain(arrangement: &Arrangement, part: usize, drop_db: f64) -> Vec<f32> {
    let mut power = arrangement.power(part).to_vec();
    if drop_db >= l::DROP_WANTED_DB {
        return power;
    }
    let missing_db = l::DROP_LESS_GAIN_DB - drop_db;
    let onsets = strokes(arrangement, part);
    let before: f64 = power.iter().map(|&p| f64::from(p)).sum();
    for (number, &from) in onsets.iter().enumerate() {
        let to = onsets.get(number + 1).copied().unwrap_or(power.len());
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

/// The onsets of a part, cells, that start a note: those at a hit and those that are louder than
/// what sounded ahead of them. A saturated string that beats is found as onsets too, but does not
/// fall anew from each. The drop itself is read from all of them, or it would be that of notes
/// chosen for their attack.
fn strokes(arrangement: &Arrangement, part: usize) -> Vec<usize> {
    let power = arrangement.power(part);
    let mean = |from: usize, to: usize| {
        let to = to.min(power.len());
        let cells = &power[from.min(to)..to];
        cells.iter().map(|&power| f64::from(power)).sum::<f64>() / cells.len().max(1) as f64
    };
    let rise = 10f64.powf(l::STROKE_RISE_DB / 10.0);
    let hits = arrangement.hits();
    let at_hit = |at: f64| {
        let next = hits.partition_point(|&hit| hit < at);
        hits[next.saturating_sub(1)..hits.len().min(next + 1)]
            .iter()
            .any(|&hit| (hit - at).abs() * arrangement.cell_ms() <= l::SHARED_MS)
    };
    let (from, to) = l::STROKE_BEFORE_MS;
    let onsets = arrangement.onsets(part).iter();
    onsets
        .filter(|&&onset| {
            let at = onset as usize;
            let before = mean(at.saturating_sub(from), at.saturating_sub(to));
            at_hit(onset) || mean(at, at + l::STROKE_MS) >= rise * before
        })
        .map(|&onset| onset as usize)
        .collect()
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
    /// How much more attack A has than B, dB, as [`Takes::told_by`] has it.
    pub more_attack_db: f64,
    /// What that is a difference of.
    pub told_by: ToldBy,
}

/// What tells which of two takes has more attack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToldBy {
    /// The attack-to-sustain drop: where both takes have one, and it tells the same way as the
    /// level spread.
    Notes,
    /// The level spread.
    Levels,
}

impl ToldBy {
    /// Difference from which one take has more attack, dB.
    #[must_use]
    pub fn least_db(self) -> f64 {
        match self {
            ToldBy::Notes => l::TAKES_DIFFER_DB,
            ToldBy::Levels => l::SPREADS_DIFFER_DB,
        }
    }
}

/// Compares two takes. `None` where one plays for less than 2 s.
#[must_use]
pub fn compare(a: &PartTrack, b: &PartTrack) -> Option<Takes> {
    let spread = (level_spread_db(a)?, level_spread_db(b)?);
    let notes = notes::read_alike(a, b);
    let by_spread = spread.0 - spread.1;
    let by_notes = notes.map(|(a, b)| a.drop_db - b.drop_db);
    let (more_attack_db, told_by) = match by_notes {
        Some(by_notes) if by_notes * by_spread > 0.0 => (by_notes, ToldBy::Notes),
        _ => (by_spread, ToldBy::Levels),
    };
    Some(Takes { level_spread_db: spread, notes, more_attack_db, told_by })
}

impl Takes {
    /// Whether the difference is as large as [`ToldBy::least_db`].
    #[must_use]
    pub fn differ(&self) -> bool {
        self.more_attack_db.abs() >= self.told_by.least_db()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parts::{PartCell, PartOnset};

    fn part(role: PartRole, onsets: &[u64], power: impl Fn(usize) -> f32) -> PartTrack {
        let cell = |ms: usize| PartCell { weighted: power(ms), ..PartCell::default() };
        PartTrack {
            role,
            sample_rate_hz: 48_000.0,
            cell_frames: 48,
            cells: (0..4_000).map(cell).collect(),
            onsets: onsets
                .iter()
                .map(|ms| PartOnset { frame: ms * 48, ..PartOnset::default() })
                .collect(),
            ..PartTrack::default()
        }
    }

    /// Of a riff of palm mutes and a few open chords as much is asked for as the reading asks for: a
    /// third of all notes, at least eight.
    #[test]
    fn what_is_missing_is_never_already_there() {
        // Every half second a stroke; of `every` one lasts, the others fall by 60 dB in a second.
        let riff = |every: usize| {
            let onsets: Vec<u64> = (0..60).map(|n| 500 * n).collect();
            let mut track = part(PartRole::Guitars, &onsets, |_| 0.0);
            let lasts = |ms: usize| (ms / 500).is_multiple_of(every);
            let fall = |ms: usize| 10f32.powf((ms % 500) as f32 / -167.0);
            let power = |ms: usize| if lasts(ms) { 1.0 } else { fall(ms) };
            let cell = |ms: usize| PartCell { weighted: power(ms), ..PartCell::default() };
            track.cells = (0..30_000).map(cell).collect();
            track
        };
        for (every, missing) in [(2, None), (4, Some((15, 20))), (10, Some((6, 20)))] {
            let track = riff(every);
            let held = notes::read_notes(&track).is_some_and(|notes| notes.held == Held::Held);
            assert_eq!(held, missing.is_none(), "one in {every}");
            if let Some(missing) = missing {
                assert_eq!(notes::lasting(&track), missing, "one in {every}");
            }
        }
        let few = PartTrack { onsets: riff(1).onsets[..5].to_vec(), ..riff(1) };
        assert_eq!(notes::lasting(&few), (5, l::LEAST_NOTES));
    }

    /// Notes of a second: each starts 1 dB over its sustain. An onset within one starts no new note
    /// and no new fall; one at a drum hit does, however little it rises.
    #[test]
    fn a_beat_within_a_note_is_no_stroke() {
        let fall = |ms: usize| if ms % 1_000 < 60 { 1.26 } else { 1.0 };
        let guitar = part(PartRole::Guitars, &[1_000, 1_300, 1_500, 2_000, 2_700, 3_000], fall);
        let drums = part(PartRole::Drums, &[1_000, 1_510, 2_000, 3_000], |_| 0.0);
        let arrangement = Arrangement::new(&[drums, guitar]);
        assert_eq!(strokes(&arrangement, 1), [1_000, 1_500, 2_000, 3_000]);
        let less = with_less_gain(&arrangement, 1, 0.9);
        // 2 dB more at 160 ms, 4 dB at 320: the beat at 2,700 ms is not the start of a fall.
        let db = |from: usize, to: usize| 10.0 * f64::from(less[to] / less[from]).log10();
        assert!((db(2_100, 2_260) + 2.0).abs() < 0.01, "{}", db(2_100, 2_260));
        assert!(db(2_690, 2_720).abs() < 0.01, "{}", db(2_690, 2_720));
        // What drops enough is left as it is.
        assert_eq!(with_less_gain(&arrangement, 1, l::DROP_WANTED_DB), arrangement.power(1));
    }
}

//! The drive leak: more gain than a guitar needs flattens each note from its attack on.
//!
//! Two numbers, apart. The first is the attack that the guitar itself has lost, its own strokes over
//! its own sustain, told from evidence of saturation and not from the playing ([`saturation`]): it
//! makes the state, since it is what is heard first. The second is what that costs the mix's hits:
//! the guitar's levels get their own dynamics back, at its mean power, and the hits are read again.

mod notes;
mod saturation;
mod weights;

pub use notes::{Held, NoteReading, level_spread_db, read_notes};
pub use saturation::{Kept, Saturation, beyond_need, evidence};
pub use weights::EVIDENCE;

use super::clutter::state;
use super::cost::{Arrangement, cost};
use super::{HitGain, PartRole, PartTrack, retime};
use crate::contrast::quantile;
use crate::thresholds::arrangement as l;
use crate::thresholds::drive as d;
use crate::{Cost, Need, PartLeak, State, Thresholds};

/// The drive of a session's guitars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drive {
    /// The guitars together: their state, their own attack, and what their gain costs the mix's hits.
    pub leak: PartLeak,
    /// What each main hit would get back without the guitars' gain: the cost is their mean.
    pub gains: Vec<HitGain>,
    /// What is missing to tell what the mix's hits lose: main hits, or takes that show it in a narrower
    /// range ([`Need::Evidence`]).
    pub hits_need: Need,
    /// One row a part; empty rows for parts that are no guitars.
    pub rows: Vec<DriveRow>,
    /// Share of the guitars in the mid band's power of all parts at the main hits, 0 to 1.
    pub mid_share: Option<f64>,
    /// The guitar that has lost most of its own attack, by number. `None` where none is known.
    pub worst: Option<usize>,
}

/// What one guitar part shows. `None` is *not known*.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DriveRow {
    /// What its notes say; `None` where there are too few.
    pub notes: Option<NoteReading>,
    /// How far its loud moments stand over its usual level, dB: see [`level_spread_db`].
    pub level_spread_db: Option<f64>,
    /// What gain took from its own strokes; `None` with less than 2 s of sound.
    pub saturation: Option<Saturation>,
    /// What this part's gain alone costs the mix's hits, dB of hit contrast, with its range.
    pub cost: Option<Cost>,
}

impl DriveRow {
    /// Attack-to-sustain drop, dB, of notes that last; `None` where all are muted or short, since
    /// such notes fall by themselves.
    #[must_use]
    pub fn drop_db(&self) -> Option<f64> {
        self.notes.filter(|notes| notes.held == Held::Held).map(|notes| notes.drop_db)
    }

    /// Attack that the guitar itself has lost, dB: see [`Saturation::attack_lost`].
    #[must_use]
    pub fn attack_lost(&self) -> Option<Cost> {
        self.saturation.as_ref().map(Saturation::attack_lost)
    }
}

/// Reads the drive of a session; `tracks` are those of the arrangement.
#[must_use]
pub fn read(arrangement: &Arrangement, tracks: &[PartTrack], limits: &Thresholds) -> Drive {
    let guitar = |part: &usize| tracks[*part].role == PartRole::Guitars;
    let mut drive = Drive { rows: vec![DriveRow::default(); tracks.len()], ..Drive::default() };
    let guitars: Vec<usize> = (0..tracks.len()).filter(guitar).collect();
    if guitars.is_empty() {
        drive.leak.need = Need::GuitarPart;
        return drive;
    }
    for &part in &guitars {
        drive.rows[part].notes = read_notes(&tracks[part]);
        drive.rows[part].level_spread_db = level_spread_db(&tracks[part]);
        drive.rows[part].saturation = Saturation::read(&tracks[part]);
    }
    drive.mid_share = mid_share(arrangement, tracks);
    let known: Vec<(usize, Saturation)> = guitars
        .iter()
        .filter_map(|&part| drive.rows[part].saturation.map(|saturation| (part, saturation)))
        .collect();
    let worst = known.iter().min_by(|a, b| a.1.kept.total_cmp(&b.1.kept));
    let together = Saturation::together(
        known.iter().map(|&(part, saturation)| (tracks[part].power(), saturation)),
    );
    let (Some(&(worst, _)), Some(together)) = (worst, together) else {
        let heard = guitars.iter().map(|&part| saturation::heard_s(&tracks[part]));
        let have_s = heard.fold(0.0, f64::max) as f32;
        let want_s = d::LEAST_S as f32;
        let short = have_s < want_s;
        drive.leak.need = if short { Need::Programme { have_s, want_s } } else { Need::Evidence };
        return drive;
    };
    drive.worst = Some(worst);
    let lost = together.attack_lost();
    let attack = beyond_need(lost);
    (drive.leak.attack, drive.leak.attack_lost) = (Some(attack), Some(lost));
    drive.judge(limits);
    let main = arrangement.main_hits().len();
    if main < l::LEAST_MAIN_HITS {
        // Without any, nothing was played that could lose.
        if main > 0 {
            drive.hits_need = Need::Hits { have: main as u32, want: l::LEAST_MAIN_HITS as u32 };
        }
        return drive;
    }
    let mut changes = Kept::ALL.map(|_| Vec::new());
    for (part, _) in known {
        let ends = Kept::ALL.map(|which| {
            let power = less_gain(arrangement, &drive, part, which)?;
            // As it comes out where the part's audio is there.
            Some((part, retime::levelled_power(arrangement.power(part), &power)))
        });
        let gains_db = ends.each_ref().map(|change| arrangement.gains_db(change.as_slice()));
        drive.rows[part].cost = cost_with_range(&gains_db);
        for (changes, change) in changes.iter_mut().zip(ends) {
            changes.extend(change);
        }
    }
    let gains_db = changes.map(|changes| arrangement.gains_db(&changes));
    drive.set_hits_cost(cost_with_range(&gains_db));
    if drive.leak.cost.is_some() {
        drive.gains = arrangement.gains_at(&gains_db[0]);
    }
    drive
}

/// What gain costs the hits, of their gains, dB, with each of [`Kept::ALL`] given back. The range holds both
/// the bootstrap over the hits and what the share's own range makes of it, as independent errors.
/// `None` where it is wider than [`d::COST_RANGE_MOST_DB`]: one take does not tell then.
#[must_use]
pub fn cost_with_range(gains_db: &[Vec<f64>; 3]) -> Option<Cost> {
    let [Some(read), Some(more), Some(less)] = gains_db.each_ref().map(|gains_db| cost(gains_db))
    else {
        return None;
    };
    let under = (read.db - read.low_db).hypot((read.db - less.db).max(0.0));
    let over = (read.high_db - read.db).hypot((more.db - read.db).max(0.0));
    let low_db = (read.db - under).max(0.0);
    let high_db = read.db + over;
    (high_db - low_db <= d::COST_RANGE_MOST_DB).then_some(Cost { db: read.db, low_db, high_db })
}

impl Drive {
    /// Sets the state from the guitars' own attack.
    pub fn judge(&mut self, limits: &Thresholds) {
        if let Some(attack) = &self.leak.attack {
            self.leak.need = Need::Nothing;
            self.leak.state = state(attack, limits);
        }
    }

    /// Sets what the mix's hits lose, `None` where that cannot be told from these takes: guitars that
    /// would be clear by their own attack are then not known to be, since a riff whose strokes are short
    /// keeps little of them and shows much.
    pub fn set_hits_cost(&mut self, cost: Option<Cost>) {
        self.leak.cost = cost;
        self.hits_need = if cost.is_some() { Need::Nothing } else { Need::Evidence };
        if cost.is_none() && self.leak.state == State::Clear {
            (self.leak.state, self.leak.need) = (State::Unknown, Need::Evidence);
        }
    }
}

/// The power that a part would have with its own dynamics back, cell by cell of the arrangement;
/// `None` where nothing changes or it is not known. What its cost takes out, estimated or re-measured.
#[must_use]
pub fn less_gain(
    arrangement: &Arrangement,
    drive: &Drive,
    part: usize,
    which: Kept,
) -> Option<Vec<f32>> {
    let kept = drive.rows.get(part)?.saturation?.share(which);
    (kept < 1.0).then(|| restored(arrangement, part, kept))
}

/// A guitar's power with its own dynamics back, at its own mean power. Twice: what a gain left of each
/// decibel under the loud levels, `kept`, is made a decibel again, [`d::RESTORED_MOST`] times at most;
/// and where it left nothing but noise, each stroke falls again by the share that is lost of
/// [`d::NOTE_FALL_DB_S`].
#[must_use]
pub fn restored(arrangement: &Arrangement, part: usize, kept: f64) -> Vec<f32> {
    let mut power = arrangement.power(part).to_vec();
    let loudest = power.iter().fold(0.0f32, |most, &power| most.max(power));
    let least = loudest * 10f32.powf(-l::PLAYING_DB as f32 / 10.0);
    let mut playing: Vec<f64> =
        power.iter().filter(|&&power| power > least).map(|&power| f64::from(power)).collect();
    if playing.is_empty() {
        return power;
    }
    playing.sort_by(f64::total_cmp);
    let top = quantile(&playing, d::RESTORED_TOP);
    let times = (1.0 / kept.max(1e-3)).min(d::RESTORED_MOST) - 1.0;
    let sum = |power: &[f32]| power.iter().map(|&power| f64::from(power)).sum::<f64>();
    let before = sum(&power);
    let fall_db = (1.0 - kept) * d::NOTE_FALL_DB_S * arrangement.cell_ms() * 1e-3;
    let longest = d::NOTE_FALLS_MS / arrangement.cell_ms();
    let mut strokes = arrangement.onsets(part).iter().peekable();
    let mut stroke = None;
    for (cell, power) in power.iter_mut().enumerate() {
        let cell = cell as f64;
        while let Some(next) = strokes.next_if(|&&stroke| stroke <= cell) {
            stroke = Some(*next);
        }
        let age = stroke.map_or(0.0, |stroke| (cell - stroke).min(longest));
        let under = (f64::from(*power) / top).min(1.0);
        *power *= (under.powf(times) * 10f64.powf(-fall_db * age / 10.0)) as f32;
    }
    let level = (before / sum(&power)) as f32;
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

    /// Closed form: without a stroke a level `x` under the top becomes `x / kept` under it, and the mean
    /// stays.
    #[test]
    fn levels_get_their_dynamics_back_at_the_same_mean() {
        let fall = |ms: usize| if ms % 100 < 20 { 1.0 } else { 0.5 };
        let guitar = part(PartRole::Guitars, &[], fall);
        let arrangement = Arrangement::new(&[guitar]);
        let db = |power: &[f32]| 10.0 * f64::from(power[10] / power[50]).log10();
        let mean = |power: &[f32]| power.iter().sum::<f32>() / power.len() as f32;
        for (kept, times) in [(1.0, 1.0), (0.5, 2.0), (0.25, 4.0), (0.1, d::RESTORED_MOST)] {
            let power = restored(&arrangement, 0, kept);
            assert!((db(&power) - times * 10.0 * 2f64.log10()).abs() < 1e-3, "{kept}");
            assert!((mean(&power) - 0.6).abs() < 1e-3, "{kept}: {}", mean(&power));
        }
        assert_eq!(restored(&arrangement, 0, 1.0), arrangement.power(0));
    }

    /// Closed form: a level that gain made flat falls from each stroke on, by the share that is lost, and
    /// no further than a note does.
    #[test]
    fn flat_strokes_fall_again() {
        let guitar = part(PartRole::Guitars, &[1_000, 1_400, 2_400], |_| 0.5);
        let arrangement = Arrangement::new(&[guitar]);
        for kept in [0.2, 0.6, 1.0] {
            let power = restored(&arrangement, 0, kept);
            let db = |from: usize, to: usize| 10.0 * f64::from(power[from] / power[to]).log10();
            let fall_db = |ms: f64| (1.0 - kept) * d::NOTE_FALL_DB_S * ms * 1e-3;
            assert!((db(1_000, 1_300) - fall_db(300.0)).abs() < 1e-3, "{kept}");
            assert!((db(1_400, 2_399) - fall_db(d::NOTE_FALLS_MS)).abs() < 1e-3, "{kept}");
            assert!(db(1_000, 2_400).abs() < 1e-3 && db(0, 1_000).abs() < 1e-3, "{kept}");
        }
    }

    /// Closed form: the hits' spread and the share's range add up as independent errors, a cost is never
    /// negative, and too wide a range is no figure.
    #[test]
    fn the_range_of_a_cost_holds_that_of_the_share() {
        let gains = |db: f64| vec![db; 9];
        let (read, more, less) = (gains(0.8), gains(1.6), gains(0.3));
        let cost = cost_with_range(&[read.clone(), more, less.clone()]).expect("1.3 dB wide");
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        assert!(
            near(cost.db, 0.8) && near(cost.low_db, 0.3) && near(cost.high_db, 1.6),
            "{cost:?}"
        );
        let most = gains(0.8 + d::COST_RANGE_MOST_DB);
        assert_eq!(cost_with_range(&[read, most, less]), None);
        assert_eq!(cost_with_range(&[vec![], vec![], vec![]]), None);
    }

    /// Guitars that are clear by their own attack are not known to be where the hits may lose anything;
    /// what has lost attack has lost it.
    #[test]
    fn a_cost_that_is_not_known_leaves_no_guitar_clear() {
        for (state, with, without) in [
            (State::Clear, State::Clear, State::Unknown),
            (State::Watch, State::Watch, State::Watch),
            (State::Leaking, State::Leaking, State::Leaking),
        ] {
            let mut drive = Drive::default();
            drive.leak.state = state;
            drive.set_hits_cost(Some(Cost::default()));
            assert_eq!((drive.leak.state, drive.hits_need), (with, Need::Nothing));
            drive.set_hits_cost(None);
            assert_eq!((drive.leak.state, drive.hits_need), (without, Need::Evidence));
        }
    }

    /// A guitar of eight strokes in four seconds: what the hits lose is not asked of fewer than 16 main
    /// hits, and that is why it is not known.
    #[test]
    fn too_few_main_hits_tell_nothing_of_what_they_lose() {
        let strokes: Vec<u64> = (0..8).map(|n| 100 + 450 * n).collect();
        let guitar = part(PartRole::Guitars, &strokes, |ms| {
            0.1 * 10f32.powf(-((ms as f32 - 100.0).rem_euclid(450.0)) / 400.0)
        });
        let tracks = [guitar];
        let drive = read(&Arrangement::new(&tracks), &tracks, &Thresholds::default());
        assert!(drive.leak.attack.is_some() && drive.leak.cost.is_none());
        assert_eq!(drive.hits_need, Need::Hits { have: 8, want: l::LEAST_MAIN_HITS as u32 });
    }

    /// A guitar that plays for a second, or none at all, is not known; silence is not either.
    #[test]
    fn too_little_sound_is_unknown() {
        let short = part(PartRole::Guitars, &[], |ms| if ms < 1_000 { 1.0 } else { 0.0 });
        let silent = part(PartRole::Guitars, &[], |_| 0.0);
        for track in [short, silent, PartTrack::default()] {
            assert_eq!(Saturation::read(&track), None);
        }
    }
}

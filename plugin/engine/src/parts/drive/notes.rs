//! What a guitar's notes show of its gain.

use crate::contrast::quantile;
use crate::parts::PartTrack;
use crate::surround;
use crate::thresholds::arrangement as l;

/// Which notes a reading was made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// Notes that last: the drop tells how much gain there is.
    Held,
    /// Muted or short notes, which fall by themselves: takes of one riff can be ranked by the
    /// drop, but it does not tell how much gain is too much.
    Muted,
}

/// What the notes of a guitar part say. All numbers are medians over notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteReading {
    /// Attack-to-sustain drop, dB: K-weighted level of the loudest 10 ms in a note's first 30 ms
    /// over its mean level from 130 to 190 ms. Held notes too short for that are read from 80 to
    /// 140 ms or from 50 to 90 ms and brought to the first by a factor; muted ones are read from
    /// 35 to 75 ms as they are.
    pub drop_db: f64,
    /// Which notes it was made from.
    pub held: Held,
    /// Notes that it was made from.
    pub notes: usize,
    /// Crest factor of a note, dB: largest sample over the mean square, up to 150 ms.
    pub crest_db: f64,
    /// Spectral fill, dB: power above 4 kHz over that from 200 Hz to 4 kHz in the sustain.
    pub fill_db: f64,
}

/// One note's numbers.
#[derive(Clone, Copy, Debug)]
struct Note {
    drop_db: f64,
    crest_db: f64,
    fill_db: f64,
    muted: bool,
}

/// Where in a note its sustain is read, ms.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Window {
    at: usize,
    half: usize,
    factor: f64,
}

const HELD: [Window; 3] = [held_window(0), held_window(1), held_window(2)];
const MUTED: Window = Window { at: l::MUTED_AT_MS, half: l::MUTED_HALF_MS, factor: 1.0 };

const fn held_window(n: usize) -> Window {
    Window { at: l::SUSTAIN_AT_MS[n], half: l::SUSTAIN_HALF_MS[n], factor: l::SUSTAIN_FACTOR[n] }
}

/// Reads a part's notes; `None` where fewer than [`l::LEAST_NOTES`] can be read.
#[must_use]
pub fn read_notes(track: &PartTrack) -> Option<NoteReading> {
    HELD.into_iter()
        .find_map(|window| read(track, window, Held::Held))
        .or_else(|| read(track, MUTED, Held::Muted))
}

/// Reads two takes from one window and from one kind of notes.
pub(super) fn read_alike(a: &PartTrack, b: &PartTrack) -> Option<(NoteReading, NoteReading)> {
    HELD.into_iter()
        .map(|window| (window, Held::Held))
        .find_map(|(window, held)| Some((read(a, window, held)?, read(b, window, held)?)))
}

/// Fewest held notes for a reading, of so many that are long enough: a few muted ones that pass for
/// held ones by chance must not speak for the riff.
fn least(all: usize) -> usize {
    l::LEAST_NOTES.max((l::HELD_SHARE * all as f64).ceil() as usize)
}

fn read(track: &PartTrack, window: Window, held: Held) -> Option<NoteReading> {
    let mut notes = notes(track, window);
    let all = notes.len();
    notes.retain(|note| held == Held::Muted || !note.muted);
    if notes.len() < least(all) {
        return None;
    }
    let median = |of: fn(&Note) -> f64| {
        let mut values: Vec<f64> = notes.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        quantile(&values, 0.5)
    };
    Some(NoteReading {
        drop_db: median(|note| note.drop_db) * window.factor,
        held,
        notes: notes.len(),
        crest_db: median(|note| note.crest_db),
        fill_db: median(|note| note.fill_db),
    })
}

/// The notes that last up to the window's end.
fn notes(track: &PartTrack, window: Window) -> Vec<Note> {
    let weighted: Vec<f32> = track.cells.iter().map(|cell| cell.weighted).collect();
    let cell = |n: usize| track.onsets[n].frame as usize / track.cell_frames.max(1);
    let levels: Vec<f64> =
        (0..track.onsets.len()).map(|n| surround::level(&weighted[..], cell(n) as u64).0).collect();
    let loudest = levels.iter().fold(0.0f64, |most, &level| most.max(level));
    let least = loudest * 10f64.powf(-l::SOUNDS_DB / 10.0);
    let mut notes = Vec::new();
    for (n, &attack) in levels.iter().enumerate() {
        let start = cell(n);
        let next = if n + 1 < levels.len() { cell(n + 1) } else { weighted.len() };
        let end = start + window.at + window.half;
        if attack <= least || next < end {
            continue;
        }
        let db = |from: usize, to: usize| {
            let sum: f64 = weighted[from..to].iter().map(|&p| f64::from(p)).sum();
            10.0 * (sum / (to - from) as f64).max(attack * 1e-6).log10()
        };
        let sustain = db(end - 2 * window.half, end);
        // The fall from a third into the note to the window's last quarter.
        let early = start + window.at * 2 / 5;
        let quarter = window.half / 2;
        let fall = db(early - quarter, early + quarter) - db(end - quarter, end);
        let fall_s = (end - quarter / 2 - early) as f64 * track.cell_s();
        let drop_db = 10.0 * attack.log10() - sustain;
        notes.push(Note {
            drop_db,
            crest_db: crest_db(track, start, next.min(start + l::CREST_MS)),
            fill_db: fill_db(track, end - 2 * window.half, end),
            muted: fall > l::MUTED_DB_PER_S * fall_s
                || drop_db * window.factor > l::HELD_DROP_MOST_DB,
        });
    }
    notes
}

fn crest_db(track: &PartTrack, from: usize, to: usize) -> f64 {
    let (mut peak, mut power) = (0.0f32, 0.0f64);
    for cell in &track.cells[from..to] {
        peak = peak.max(cell.peak);
        // Bands add up both channels; the peak is that of the louder one.
        let louder = cell.sides.iter().fold(0.0f32, |most, &side| most.max(side));
        let share = if cell.weighted > 0.0 { louder / cell.weighted } else { 1.0 };
        power += f64::from(share * cell.bands.iter().sum::<f32>());
    }
    let mean = power / (to - from).max(1) as f64;
    20.0 * f64::from(peak).max(1e-10).log10() - 10.0 * mean.max(1e-20).log10()
}

fn fill_db(track: &PartTrack, from: usize, to: usize) -> f64 {
    let band = |band: usize| -> f64 {
        track.cells[from..to].iter().map(|cell| f64::from(cell.bands[band])).sum()
    };
    10.0 * (band(2).max(1e-20) / band(1).max(1e-20)).log10()
}

/// How far the loud moments of a part stand out, dB: the mean K-weighted level of the loudest
/// quarter of all stretches of 10 ms less that of the quarter below it, among those within
/// [`l::PLAYING_DB`] of the loudest. It falls as gain rises, at any level and in any riff, and
/// needs no onsets; but it depends on the riff, so it ranks takes of one riff and no more. `None`
/// with less than 2 s of sound. Ours.
#[must_use]
pub fn level_spread_db(track: &PartTrack) -> Option<f64> {
    let mut levels: Vec<f64> = track
        .cells
        .windows(10)
        .step_by(5)
        .map(|cells| cells.iter().map(|cell| f64::from(cell.weighted)).sum())
        .collect();
    let most = levels.iter().fold(0.0f64, |most, &level| most.max(level));
    let least = most * 10f64.powf(-l::PLAYING_DB / 10.0);
    levels.retain(|&level| level > least);
    if levels.len() < l::SPREAD_LEAST {
        return None;
    }
    levels.sort_by(f64::total_cmp);
    let level_db = |levels: &[f64]| {
        levels.iter().map(|level| 10.0 * level.log10()).sum::<f64>() / levels.len() as f64
    };
    let (half, quarter) = (levels.len() / 2, levels.len() * 3 / 4);
    Some(level_db(&levels[quarter..]) - level_db(&levels[half..quarter]))
}

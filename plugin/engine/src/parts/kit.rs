//! Which strokes of a drum part are kicks, and which are snares: by the bands of what each brings.

use super::{PartCell, PartTrack};
use crate::bands::BANDS;
use crate::thresholds::arrangement as t;

/// A drum that carries the beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Drum {
    /// The bass drum; low toms sound alike.
    Kick,
    /// The snare drum; high toms and claps sound alike.
    Snare,
}

impl Drum {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Kick, Self::Snare];

    /// The word in the JSON.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Kick => "kick",
            Self::Snare => "snare",
        }
    }
}

/// The strokes of a track that are one of the two: time, s, on the timeline of the tracks, and which.
/// In order of time; hats, cymbals and faint strokes are left out. Allocates; not for the audio
/// thread.
#[must_use]
pub fn drums(track: &PartTrack) -> Vec<(f64, Drum)> {
    let mut found: Vec<(f64, f32, Drum)> = Vec::new();
    for onset in track.strokes() {
        let cell = (onset.frame / track.cell_frames.max(1) as u64) as usize;
        if let Some(drum) = drum_of(&track.cells, cell) {
            found.push((track.onset_time_s(onset), onset.level_lufs, drum));
        }
    }
    let loudest = |drum: Drum| {
        let of = found.iter().filter(|stroke| stroke.2 == drum).map(|stroke| stroke.1);
        let mut levels: Vec<f32> = of.collect();
        levels.sort_by(f32::total_cmp);
        levels.get(levels.len().saturating_sub(1) * 9 / 10).copied().unwrap_or(f32::INFINITY)
    };
    let loudest = Drum::ALL.map(loudest);
    found.retain(|(_, level, drum)| *level >= loudest[*drum as usize] - t::STROKE_BELOW_DB);
    found.into_iter().map(|(time_s, _, drum)| (time_s, drum)).collect()
}

/// What a stroke at `cell` is, by the bands' powers over those before it.
fn drum_of(cells: &[PartCell], cell: usize) -> Option<Drum> {
    let mean = |from: usize, to: usize| -> [f32; BANDS] {
        let range = &cells[from.min(cells.len())..to.min(cells.len())];
        let sum = |band: usize| range.iter().map(|cell| cell.bands[band]).sum::<f32>();
        std::array::from_fn(|band| sum(band) / range.len().max(1) as f32)
    };
    let before = mean(cell.saturating_sub(t::STROKE_BEFORE_CELLS), cell.saturating_sub(2));
    let after = mean(cell, cell + t::STROKE_CELLS);
    let brought: [f32; BANDS] = std::array::from_fn(|band| (after[band] - before[band]).max(0.0));
    let whole: f32 = brought.iter().sum();
    if whole <= 0.0 {
        return None;
    }
    let [low, _, high] = brought.map(|power| power / whole);
    if low >= t::KICK_LOW_SHARE {
        Some(Drum::Kick)
    } else if high <= t::SNARE_HIGH_SHARE {
        Some(Drum::Snare)
    } else {
        None
    }
}

//! What to move, in the JSON.

use brunt_engine::parts::PartTrack;
use brunt_engine::parts::timing::Edit;
use serde::{Deserialize, Serialize};

use crate::words;

/// One note to move so that it lies with the drums, or with the part that the others are read against.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct EditReport {
    /// Name of the part.
    pub part: String,
    /// Its role: drums, bass, guitars, vocals, other.
    pub role: String,
    /// Its file; in the plug-in, the track's name.
    pub file: String,
    /// Onset of the note, s.
    pub time_s: f64,
    /// Number of the bar that it lies in, the song's first counted as 1; null where no tempo is known.
    pub bar: Option<i64>,
    /// Beat within the bar, from 1; null with it.
    pub beat: Option<f64>,
    /// How far to move it, ms; negative: earlier.
    pub move_ms: f64,
    /// `early` or `late`: how it lies now.
    pub lies: String,
    /// Hit contrast that its hit loses to the part's looseness, dB; negative where the hit would lose
    /// by the move.
    pub cost_db: Option<f64>,
}

/// The tempo of a song that keeps one, whose first bar starts with the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tempo {
    /// Beats a minute.
    pub bpm: f64,
    /// Beats a bar.
    pub beats_a_bar: u32,
}

impl Tempo {
    /// Bar and beat of a time, both from 1.
    #[must_use]
    pub fn place(&self, time_s: f64) -> (i64, f64) {
        // To a hundredth of a beat, so that one that is played a hair early is no 4.99.
        let beats = (time_s * self.bpm / 60.0 * 100.0).round() / 100.0;
        let a_bar = f64::from(self.beats_a_bar.max(1));
        let bar = (beats / a_bar).floor();
        (bar as i64 + 1, ((beats - bar * a_bar + 1.0) * 100.0).round() / 100.0)
    }
}

impl EditReport {
    /// The edits of the tracks; times move by `from_s`.
    #[must_use]
    pub fn all(tracks: &[PartTrack], edits: &[Edit], from_s: f64) -> Vec<Self> {
        // To 0.01 ms and 0.01 dB: neither is known better.
        let rounded = |x: f64| (100.0 * x).round() / 100.0;
        edits
            .iter()
            .map(|edit| {
                let track = &tracks[edit.part];
                Self {
                    part: words::part_name(track),
                    role: track.role.code().to_owned(),
                    file: track.name.clone(),
                    time_s: ((edit.time_s + from_s) * 1e5).round() / 1e5,
                    bar: None,
                    beat: None,
                    move_ms: rounded(-edit.late_ms),
                    lies: words::edits::lies(edit.late_ms).to_owned(),
                    cost_db: edit.cost_db.is_finite().then(|| rounded(edit.cost_db)),
                }
            })
            .collect()
    }

    /// The same with bar and beat.
    #[must_use]
    pub fn at(mut self, tempo: &Tempo) -> Self {
        let (bar, beat) = tempo.place(self.time_s);
        self.bar = Some(bar);
        self.beat = Some(beat);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_and_beats_count_from_one() {
        let tempo = Tempo { bpm: 120.0, beats_a_bar: 4 };
        assert_eq!(tempo.place(0.0), (1, 1.0));
        assert_eq!(tempo.place(1.75), (1, 4.5));
        // A hair early on the next bar.
        assert_eq!(tempo.place(1.999), (2, 1.0));
        assert_eq!(Tempo { bpm: 90.0, beats_a_bar: 3 }.place(4.0), (3, 1.0));
    }
}

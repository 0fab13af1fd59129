//! What the editor draws and what it may change: the whole contract between the editor and the
//! rest of the plug-in. Plain data and one trait, so that the view runs without host or window.

use std::collections::VecDeque;
use std::sync::Arc;

use brunt_engine::parts::PlaceSums;
use brunt_engine::{HitWave, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ, Readings, Thresholds};
use brunt_report::report::{
    DrumShape, FINE_POINTS, HistoryReport, ShapeReport, SpectrumReport, Timeline,
};

use crate::export::Exported;
use crate::links::Linked;
use crate::model::heard::{Heard, Held, Status};
use crate::model::kept::KeptPass;
use crate::model::place::PlaceMark;
pub use crate::model::place::{BarLine, Live, PlacedHit};
use crate::model::roles::{Role, SideRole};
use crate::model::window::Theme;
pub use crate::model::window::UI_SCALE_RANGE;
use crate::reference::Shown;

/// Most hits that a [`Display`] keeps; older ones leave first.
pub const MAX_HITS: usize = 4096;
/// Most bar lines that a [`Display`] keeps; older ones leave first.
pub const MAX_BARS: usize = 4096;
/// Most marks of the song's places that a [`Display`] keeps; older ones leave first. Ours: two hours of
/// a loop of two seconds.
pub const MAX_PLACES: usize = 4096;
/// Most waveforms of hits that a [`Display`] keeps; older ones leave first. Ours: the last bars, at
/// 1.5 kB each.
pub const MAX_WAVES: usize = 256;
/// Shortest piece of the song that counts, s: rounding makes none.
const LEAST_S: f64 = 1e-6;

/// Everything to draw, gathered from the bridge's queues on the GUI side. The audio thread never
/// touches it.
#[derive(Clone, Debug, Default)]
pub struct Display {
    /// The newest consistent snapshot of all readings.
    pub readings: Readings,
    /// The values that move fastest, newer than `readings` by up to 10 ms. Each is right on its
    /// own; together they need not stem from one moment.
    pub live: Live,
    /// Hits since the last reset, oldest first, at most [`MAX_HITS`].
    pub hits: VecDeque<PlacedHit>,
    /// Bar starts since the last reset, oldest first, at most [`MAX_BARS`].
    pub bars: VecDeque<BarLine>,
    /// Where the song started, jumped and stopped since the last reset, oldest first, at most
    /// [`MAX_PLACES`].
    pub places: VecDeque<PlaceMark>,
    /// The history since the last reset, to zoom into.
    pub fine: Timeline<FINE_POINTS>,
    /// The same as the report has it; a restored pass has this alone.
    pub song: Timeline,
    /// The shape of the hits since the last reset.
    pub shape: Option<Arc<ShapeReport>>,
    /// The same of the side-chain: of the same moments where it carries the mix before the limiter,
    /// of its own hits where it carries a reference.
    pub side_shape: Option<Arc<ShapeReport>>,
    /// The same at the strokes of kick and snare, where a linked drum part has them: of the newest hits.
    pub drum_shapes: Arc<Vec<DrumShape>>,
    /// The spectrum of the hits over their surroundings, since the last reset.
    pub spectrum: Option<Arc<SpectrumReport>>,
    /// Waveforms of the last hits, oldest first, at most [`MAX_WAVES`]. One that comes a second time
    /// for a hit has the side-chain with it.
    pub waves: VecDeque<HitWave>,
    /// Passes that were kept to compare with, oldest first. They outlive a reset.
    pub kept: Vec<KeptPass>,
    /// What became of the last report that was asked for.
    pub exported: Exported,
    /// Hits, bar lines and history points lost since the last reset because a queue was full
    /// while nothing drained it.
    pub dropped: u64,
    /// Sample rate, Hz; 0 until a host has activated the plug-in.
    pub sample_rate_hz: f64,
    /// Channels of the main bus; 0 until a host has activated the plug-in.
    pub channels: usize,
    /// Whether the host's transport runs.
    pub playing: bool,
    /// Whether measuring is off.
    pub bypassed: bool,
    /// Whether the measuring code failed and was switched off. Audio still passes; activating
    /// the plug-in anew, or a reset, clears it.
    pub fault: bool,
    /// How the audition stands, and why only the mix is heard where something else is asked for.
    pub listening: (Status, Option<Held>),
    /// The reference file.
    pub reference: Shown,
    /// What is heard of the parts.
    pub linked: Arc<Linked>,
    /// Name of the host's track; empty where the host gives none.
    pub track_name: String,
    /// Changes whenever anything to draw has changed.
    pub generation: u64,
    /// Whether the readings were restored from a saved session and nothing has played since.
    pub from_saved_pass: bool,
}

impl Display {
    /// The history as the report has it; `None` while there is none.
    #[must_use]
    pub fn history(&self) -> Option<HistoryReport> {
        HistoryReport::of(&self.song, 0.0).map(|history| self.with_part_costs(history))
    }

    /// The history from `from_s` to `to_s` in as much detail as there is; `None` while there is none.
    #[must_use]
    pub fn stretch(&self, from_s: f64, to_s: f64) -> Option<HistoryReport> {
        let fine = self.fine.stretch(from_s, to_s);
        fine.map(|history| self.with_part_costs(history)).or_else(|| self.history())
    }

    /// A history of measured programme with what the parts cost at the places of the song that were
    /// played then.
    #[must_use]
    pub fn with_part_costs(&self, mut history: HistoryReport) -> HistoryReport {
        if !self.places.is_empty() && !self.linked.places.is_empty() {
            history.set_part_costs(|from_s, to_s| self.part_costs_db(from_s, to_s));
        }
        history
    }

    fn part_costs_db(&self, from_s: f64, to_s: f64) -> [Option<f64>; 3] {
        let first = self.places.partition_point(|mark| mark.time_s <= from_s).saturating_sub(1);
        let mut sums = PlaceSums::default();
        for (k, mark) in self.places.iter().enumerate().skip(first) {
            if mark.time_s >= to_s {
                break;
            }
            let end_s = self.places.get(k + 1).map_or(to_s, |next| next.time_s.min(to_s));
            if let Some(song_s) = mark.song_s
                && end_s - from_s.max(mark.time_s) > LEAST_S
            {
                let start_s = song_s + (from_s - mark.time_s).max(0.0);
                sums.add(&self.linked.places.around(start_s, song_s + end_s - mark.time_s));
            }
        }
        sums.costs_db()
    }

    /// Place in the song of a moment of the measured programme, s; `None` where it has none.
    #[must_use]
    pub fn song_s(&self, time_s: f64) -> Option<f64> {
        let next = self.places.partition_point(|mark| mark.time_s <= time_s);
        let mark = self.places.get(next.checked_sub(1)?)?;
        Some(mark.song_s? + time_s - mark.time_s)
    }

    /// The waveform of the hit of this number, as in [`Hit::index`]; the newest where there are two.
    #[must_use]
    pub fn wave(&self, hit: u64) -> Option<&HitWave> {
        self.waves.iter().rev().find(|wave| wave.hit == hit)
    }

    /// Whether the host's sample rate, if it has told one, can be measured.
    #[must_use]
    pub fn rate_is_measured(&self) -> bool {
        let measured = MIN_SAMPLE_RATE_HZ..=MAX_SAMPLE_RATE_HZ;
        self.sample_rate_hz == 0.0 || measured.contains(&self.sample_rate_hz)
    }
}

/// What the editor may change. The plug-in implements it over host parameters and persisted
/// settings; tests implement it over plain fields.
pub trait Controls {
    /// Whether measuring is off.
    fn bypass(&self) -> bool;
    /// Switches measuring off or on. Audio passes either way.
    fn set_bypass(&mut self, on: bool);
    /// What the side-chain carries.
    fn side_role(&self) -> SideRole;
    /// Says what the side-chain carries.
    fn set_side_role(&mut self, role: SideRole);
    /// What is asked to be heard.
    fn listen(&self) -> Heard;
    /// Asks for the mix, the side-chain or the difference to be heard. Never saved as anything
    /// but the mix, not automatable.
    fn set_listen(&mut self, heard: Heard);
    /// What this instance sits on.
    fn role(&self) -> Role;
    /// Says what this instance sits on.
    fn set_role(&mut self, role: Role);
    /// The user's own name of the part; empty where the track's name counts.
    fn part_name(&self) -> String;
    /// Names the part; an empty name gives way to the track's.
    fn set_part_name(&mut self, name: &str);
    /// How much later the part counts than it is heard, ms.
    fn trim_ms(&self) -> f64;
    /// Sets how much later the part counts than it is heard, ms; clamped to the parameter's range.
    fn set_trim_ms(&mut self, ms: f64);
    /// Takes the file at `path` as reference; an empty one takes the reference away.
    fn set_reference(&mut self, path: &str);
    /// Forgets everything measured.
    fn reset(&mut self);
    /// Keeps the pass on display, to compare later ones with.
    fn keep_pass(&mut self);
    /// Forgets the kept pass of this number.
    fn forget_kept(&mut self, number: u32);
    /// Writes the report of the pass on display to a new file.
    fn export_report(&mut self);
    /// Whether a start of the host's transport resets the readings.
    fn follow_transport(&self) -> bool;
    /// Sets whether a start of the host's transport resets the readings.
    fn set_follow_transport(&mut self, on: bool);
    /// Limits of the leaks' states.
    fn thresholds(&self) -> Thresholds;
    /// Sets the limits of the leaks' states, dB; values out of the parameters' range are clamped.
    fn set_thresholds(&mut self, thresholds: Thresholds);
    /// Scale of the interface, within [`UI_SCALE_RANGE`].
    fn ui_scale(&self) -> f32;
    /// Sets the scale of the interface, clamped to [`UI_SCALE_RANGE`].
    fn set_ui_scale(&mut self, scale: f32);
    /// Dark or light.
    fn theme(&self) -> Theme;
    /// Sets dark or light. Saved with the session, not automatable.
    fn set_theme(&mut self, theme: Theme);
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::{HitGain, PartsReading, PlaceCosts};
    use brunt_engine::{HistoryPoint, LeakKind};

    use super::*;

    /// Half a minute of programme; a main hit every second of the song that costs as many decibels
    /// as the song is seconds old, through timing.
    fn played(marks: &[(f64, Option<f64>)]) -> Display {
        let mut display = Display::default();
        for k in 1..=300 {
            let point = HistoryPoint { time_s: f64::from(k) / 10.0, ..HistoryPoint::default() };
            display.song.add(&point);
            display.fine.add(&point);
        }
        let gain = |k: i32| HitGain { time_s: f64::from(k) + 0.5, db: f64::from(k) };
        let mut reading = PartsReading::default();
        reading.timing.gains = (0..20).map(gain).collect();
        let mut costs = PlaceCosts::default();
        costs.take(&reading, (0.0, 20.0));
        let linked = Linked { places: costs.into(), ..Linked::default() };
        display.linked = Arc::new(linked);
        let mark = |&(time_s, song_s)| PlaceMark { time_s, song_s };
        display.places = marks.iter().map(mark).collect();
        display
    }

    fn timing(display: &Display, times_s: &[f64]) -> Vec<Option<f64>> {
        let history = display.history().expect("points");
        let lane = history.costs_db.get(LeakKind::Timing).expect("known");
        times_s.iter().map(|s| lane[(s / history.step_s) as usize]).collect()
    }

    /// Measured time is not the song's: a loop shows its places' costs each time, and nothing is known
    /// while the transport stands or where the parts were never heard.
    #[test]
    fn what_the_parts_cost_follows_the_song() {
        let marks = [
            (2.0, Some(5.0)),
            (6.0, Some(5.0)),
            (10.0, None),
            (12.0, Some(15.0)),
            (20.0, Some(60.0)),
        ];
        let display = played(&marks);
        let times = [1.05, 2.05, 5.95, 6.05, 9.95, 11.05, 13.55, 20.55];
        let costs = [None, Some(5.0), Some(8.0), Some(5.0), Some(8.0), None, Some(16.0), None];
        assert_eq!(timing(&display, &times), costs);
        // Coarser columns take in what was played in them, and each place counts once a time.
        let step_s = 0.1;
        let fine = display.stretch(0.0, 30.0).expect("points");
        assert_eq!((fine.step_s, fine.costs_db.get(LeakKind::Clutter)), (step_s, None));
        let both = display.part_costs_db(2.0, 10.0)[0].expect("known");
        assert!(
            (both - 6.5).abs() < 1e-9,
            "{both}: twice the seconds 5 to 8, and two on either side"
        );
        assert_eq!(display.part_costs_db(10.0, 12.0), [None; 3]);
    }

    /// Without marks, as in a restored pass, a history keeps what was saved.
    #[test]
    fn a_restored_history_keeps_its_costs() {
        let display = played(&[(0.0, Some(0.0))]);
        let saved = display.history().expect("points");
        let mut restored = played(&[]);
        restored.song = Timeline::from(&saved);
        assert_eq!(restored.history(), Some(saved));
    }
}

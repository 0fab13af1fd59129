//! What the editor draws and what it may change: the whole contract between the editor and the
//! rest of the plug-in. Plain data and one trait, so that the view runs without host or window.

use std::collections::VecDeque;
use std::sync::Arc;

use brunt_engine::{Hit, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ, Readings, Thresholds};
use brunt_report::report::{FINE_POINTS, Timeline};

use crate::audition::{Heard, Held, Status};
use crate::export::Exported;
use crate::kept::KeptPass;
use crate::links::Linked;
use crate::params::{Role, SideRole};
use crate::reference::Shown;
use crate::state::Theme;

/// Most hits that a [`Display`] keeps; older ones leave first.
pub const MAX_HITS: usize = 4096;
/// Most bar lines that a [`Display`] keeps; older ones leave first.
pub const MAX_BARS: usize = 4096;
/// Smallest and largest interface scale.
pub const UI_SCALE_RANGE: (f32, f32) = (1.0, 3.0);

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
    /// The history since the last reset, to zoom into.
    pub fine: Timeline<FINE_POINTS>,
    /// The same as the report has it; a restored pass has this alone.
    pub song: Timeline,
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

/// Latest values for fast meters. `None` as in [`Readings`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Live {
    /// Momentary loudness, LUFS.
    pub momentary_lufs: Option<f64>,
    /// Short-term loudness, LUFS.
    pub short_term_lufs: Option<f64>,
    /// Largest true peak since the last reset, dBTP.
    pub true_peak_dbtp: Option<f64>,
    /// Peak-to-short-term-loudness ratio, dB.
    pub psr_db: Option<f64>,
}

/// A hit with its place in the host's song.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlacedHit {
    /// The hit as measured.
    pub hit: Hit,
    /// Position of the onset in the host's song, quarter notes from its start. `None` while the
    /// transport stands still or the host gives no tempo.
    pub beat: Option<f64>,
}

/// The start of a bar of the host's song.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BarLine {
    /// When it passed, seconds of measured programme: the same axis as
    /// [`Hit::time_s`](brunt_engine::Hit::time_s).
    pub time_s: f64,
    /// Number of the bar as an engineer counts it: the first is 1.
    pub number: i64,
}

impl Display {
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

//! The host's transport.

use clack_host::events::event_types::{TransportEvent, TransportFlags};
use clack_host::events::{EventFlags, EventHeader};
use clack_host::utils::{BeatTime, SecondsTime};

/// Tempo and time signature of a song with constant tempo, from its first frame on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tempo {
    /// Quarter notes a minute.
    pub bpm: f64,
    /// Upper and lower number of the time signature.
    pub signature: (u16, u16),
}

impl Tempo {
    /// The transport's report at `seconds` into the song.
    #[must_use]
    pub fn at(&self, seconds: f64, playing: bool) -> TransportEvent {
        let beat = seconds * self.bpm / 60.0;
        let bar_beats = f64::from(self.signature.0) * 4.0 / f64::from(self.signature.1);
        // A hair forward, so that a position on a bar line counts as the new bar.
        let bar = (beat / bar_beats + 1e-9).floor();
        let mut flags = TransportFlags::HAS_TEMPO
            | TransportFlags::HAS_BEATS_TIMELINE
            | TransportFlags::HAS_SECONDS_TIMELINE
            | TransportFlags::HAS_TIME_SIGNATURE;
        flags.set(TransportFlags::IS_PLAYING, playing);
        TransportEvent {
            header: EventHeader::new_core(0, EventFlags::empty()),
            flags,
            song_pos_beats: BeatTime::from_float(beat),
            song_pos_seconds: SecondsTime::from_float(seconds),
            tempo: self.bpm,
            tempo_inc: 0.0,
            loop_start_beats: BeatTime::from_int(0),
            loop_end_beats: BeatTime::from_int(0),
            loop_start_seconds: SecondsTime::from_int(0),
            loop_end_seconds: SecondsTime::from_int(0),
            bar_start: BeatTime::from_float(bar * bar_beats),
            bar_number: bar as i32,
            time_signature_numerator: self.signature.0,
            time_signature_denominator: self.signature.1,
        }
    }
}

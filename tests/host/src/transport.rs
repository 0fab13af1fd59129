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

/// A song whose tempo and signature change: the time of each change, s, in order, the first at 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Changes(pub Vec<(f64, Tempo)>);

impl Changes {
    /// Place at `seconds` into the song: quarter notes, start of the bar in quarter notes, number of
    /// the bar, the first is 0, and what holds there. A change starts a bar.
    #[must_use]
    pub fn place(&self, seconds: f64) -> (f64, f64, i32, Tempo) {
        let (mut beat, mut bar) = (0.0, 0.0f64);
        for (k, &(from, tempo)) in self.0.iter().enumerate() {
            let bar_beats = f64::from(tempo.signature.0) * 4.0 / f64::from(tempo.signature.1);
            let next = self.0.get(k + 1).map_or(f64::INFINITY, |next| next.0);
            let beats = |s: f64| (s - from) * tempo.bpm / 60.0;
            if seconds < next {
                // A hair forward, as above.
                let bars = (beats(seconds) / bar_beats + 1e-9).floor();
                return (
                    beat + beats(seconds),
                    beat + bars * bar_beats,
                    (bar + bars) as i32,
                    tempo,
                );
            }
            bar += (beats(next) / bar_beats - 1e-9).ceil();
            beat += beats(next);
        }
        unreachable!("the last change holds for ever")
    }

    /// The transport's report at `seconds` into the song.
    #[must_use]
    pub fn at(&self, seconds: f64, playing: bool) -> TransportEvent {
        let (beat, start, bar, tempo) = self.place(seconds);
        TransportEvent {
            song_pos_beats: BeatTime::from_float(beat),
            bar_start: BeatTime::from_float(start),
            bar_number: bar,
            ..tempo.at(seconds, playing)
        }
    }
}

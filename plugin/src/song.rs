//! Places measured time in the host's song: bar lines, and the beat of a hit that is known only
//! some hundred milliseconds after its onset.

mod counter;

pub use crate::model::place::PlaceMark;
pub use counter::BarCounter;

use crate::model::place::BarLine;

/// Anchors kept. A hit is given out under half a second after its onset; at 384 kHz in blocks of
/// 256 frames with a new tempo in each, that is 750 blocks.
const ANCHORS: usize = 1024;
/// Deviation from the last anchor's line that makes a new anchor, quarter notes. Ours: at 120
/// beats a minute 1e-4 is 0.05 ms, a tenth of the error allowed to an onset.
const SAME_LINE_BEATS: f64 = 1e-4;
/// Slack at a block's edges, quarter notes, so that rounding in the host's position neither loses
/// nor doubles a bar line that falls on an edge.
const EDGE_BEATS: f64 = 1e-6;

/// What the host says of its song at the start of a block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cue {
    /// Whether the transport runs.
    pub playing: bool,
    /// Position in frames from the start of the song, while the transport runs.
    pub song_frame: Option<i64>,
    /// Tempo, quarter notes a minute.
    pub tempo_bpm: Option<f64>,
    /// Position, quarter notes from the start of the song.
    pub beat: Option<f64>,
    /// Start of the running bar, quarter notes from the start of the song.
    pub bar_start_beat: Option<f64>,
    /// Number of the running bar, the first is 0; `None` where it is not known.
    pub bar_number: Option<i32>,
    /// Whether that number is the framework's, for want of the host's: counted as if the meter had
    /// been the same since the start of the song.
    pub bar_counted: bool,
    /// Length of a bar, quarter notes.
    pub bar_beats: Option<f64>,
}

impl Cue {
    /// Place of the block's first frame in the song, at `rate_hz`, frames; `None` where the host tells
    /// none, or one that no song has.
    #[must_use]
    pub fn place(&self, rate_hz: f64) -> Option<i64> {
        self.song_frame.filter(|&frame| (frame as f64).abs() <= FURTHEST_S * rate_hz)
    }
}

/// Tells where the song starts, jumps and stops in what is measured.
#[derive(Clone, Copy, Debug, Default)]
pub struct PlaceTeller {
    /// Place in the song less measured frames, where the song has one.
    last: Option<i64>,
}

/// Furthest place in a song, s either way; a host that tells of one beyond tells of none. Ours: eleven
/// days, a tenth of what a session may hold.
const FURTHEST_S: f64 = 1e6;
/// Change of place that is a jump, s. Ours: hosts round, and costs are read by the second.
const JUMP_S: f64 = 0.01;

/// Whether the song goes on without a jump, at `rate_hz`: its place less measured frames, before and now,
/// `None` while it has none.
#[must_use]
pub fn goes_on(before: Option<i64>, now: Option<i64>, rate_hz: f64) -> bool {
    match (before, now) {
        (Some(before), Some(now)) => ((now - before) as f64).abs() < JUMP_S * rate_hz,
        (before, now) => before == now,
    }
}

impl PlaceTeller {
    /// Takes in the block that starts at measured frame `frame`, at `rate_hz`; gives a mark where the
    /// song does not go on as before.
    pub fn advance(&mut self, frame: u64, rate_hz: f64, cue: &Cue) -> Option<PlaceMark> {
        let place = cue.place(rate_hz).filter(|_| cue.playing);
        let ahead = place.map(|place| place - frame as i64);
        // What begins without a place has none.
        if goes_on(self.last, ahead, rate_hz) {
            return None;
        }
        self.last = ahead;
        let song_s = place.map(|place| place as f64 / rate_hz);
        Some(PlaceMark { time_s: frame as f64 / rate_hz, song_s })
    }
}

/// From a measured frame on, the song runs on this line, or stands still.
#[derive(Clone, Copy, Debug, Default)]
struct Anchor {
    frame: u64,
    /// Position at `frame`, quarter notes, and its growth a frame. `None`: no position known.
    line: Option<(f64, f64)>,
}

/// The newest anchors, and the last bar line given out.
#[derive(Clone, Debug)]
pub struct SongClock {
    anchors: Box<[Anchor; ANCHORS]>,
    /// Anchors ever set; the newest stands at `(set - 1) % ANCHORS`.
    set: usize,
    last_bar_beat: Option<f64>,
}

impl Default for SongClock {
    fn default() -> Self {
        Self { anchors: Box::new([Anchor::default(); ANCHORS]), set: 0, last_bar_beat: None }
    }
}

impl SongClock {
    /// Forgets everything; does not allocate.
    pub fn reset(&mut self) {
        self.set = 0;
        self.last_bar_beat = None;
    }

    /// Takes in one block: `frames` of them from measured frame `frame` on, at `rate_hz`. Gives
    /// out each bar that starts within the block, where its number is known.
    pub fn advance(
        &mut self,
        frame: u64,
        frames: usize,
        rate_hz: f64,
        cue: &Cue,
        mut bar: impl FnMut(BarLine),
    ) {
        let line = line(cue, rate_hz);
        if !self.continues(frame, line) {
            self.anchors[self.set % ANCHORS] = Anchor { frame, line };
            self.set += 1;
        }
        let (Some((beat, step)), Some(start), Some(length), Some(number)) =
            (line, cue.bar_start_beat, cue.bar_beats, cue.bar_number)
        else {
            self.last_bar_beat = None;
            return;
        };
        if !(length.is_finite() && length > EDGE_BEATS && start.is_finite()) {
            return;
        }
        let end = beat + step * frames as f64;
        // The first bar that starts in the block. A host may give a bar that lies behind.
        let mut ahead = ((beat - EDGE_BEATS - start) / length).ceil().max(0.0);
        loop {
            let at = start + ahead * length;
            // A block of any length holds at most one bar line a bar; the second bound keeps a
            // nonsense tempo from spinning here.
            if at >= end - EDGE_BEATS || ahead - ((beat - start) / length) > 64.0 {
                return;
            }
            let seen = self.last_bar_beat.is_some_and(|last| (last - at).abs() <= EDGE_BEATS);
            if !seen {
                self.last_bar_beat = Some(at);
                let offset = ((at - beat) / step).max(0.0);
                bar(BarLine {
                    time_s: (frame as f64 + offset) / rate_hz,
                    number: i64::from(number) + ahead as i64 + 1,
                });
            }
            ahead += 1.0;
        }
    }

    /// Position in the song, quarter notes, at a measured frame of the last half second.
    #[must_use]
    pub fn beat_at(&self, frame: u64) -> Option<f64> {
        let kept = self.set.min(ANCHORS);
        let anchor = (1..=kept)
            .map(|back| &self.anchors[(self.set - back) % ANCHORS])
            .find(|anchor| anchor.frame <= frame)?;
        let (beat, step) = anchor.line?;
        Some(beat + step * (frame - anchor.frame) as f64)
    }

    /// Whether the newest anchor says the same already.
    fn continues(&self, frame: u64, line: Option<(f64, f64)>) -> bool {
        if self.set == 0 {
            return false;
        }
        let newest = &self.anchors[(self.set - 1) % ANCHORS];
        match (newest.line, line) {
            (None, None) => true,
            (Some((beat, step)), Some((new_beat, new_step))) => {
                let expected = beat + step * (frame - newest.frame) as f64;
                step == new_step && (expected - new_beat).abs() < SAME_LINE_BEATS
            }
            _ => false,
        }
    }
}

/// Position and growth a frame, where the host gives them and the transport runs.
fn line(cue: &Cue, rate_hz: f64) -> Option<(f64, f64)> {
    let (beat, tempo) = (cue.beat?, cue.tempo_bpm?);
    let step = tempo / 60.0 / rate_hz;
    (cue.playing && beat.is_finite() && step.is_finite() && step > 0.0).then_some((beat, step))
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    /// A host at 120 beats a minute in 4/4: a bar is 96 000 frames.
    fn cue_at(frame: u64) -> Cue {
        let beat = frame as f64 * 2.0 / RATE_HZ;
        let bar = (beat / 4.0 + 1e-9).floor();
        Cue {
            playing: true,
            song_frame: None,
            tempo_bpm: Some(120.0),
            beat: Some(beat),
            bar_start_beat: Some(bar * 4.0),
            bar_number: Some(bar as i32),
            bar_counted: false,
            bar_beats: Some(4.0),
        }
    }

    fn bars(block: usize, frames: usize) -> Vec<BarLine> {
        let (mut song, mut bars, mut at) = (SongClock::default(), Vec::new(), 0);
        while at < frames {
            song.advance(at as u64, block, RATE_HZ, &cue_at(at as u64), |bar| bars.push(bar));
            at += block;
        }
        bars
    }

    #[test]
    fn each_bar_once_for_any_block_size() {
        for block in [1, 63, 480, 512, 96_000, 200_000] {
            let bars = bars(block, 400_000);
            let got: Vec<_> = bars.iter().take(5).map(|bar| bar.number).collect();
            assert_eq!(got, [1, 2, 3, 4, 5], "block of {block}");
            for (k, bar) in bars.iter().enumerate() {
                assert!((bar.time_s - 2.0 * k as f64).abs() < 1e-4, "block of {block}: {bar:?}");
            }
        }
    }

    #[test]
    fn the_beat_of_an_earlier_frame_follows_a_tempo_change() {
        let mut song = SongClock::default();
        song.advance(0, 48_000, RATE_HZ, &cue_at(0), |_| {});
        let faster = Cue { tempo_bpm: Some(240.0), ..cue_at(48_000) };
        song.advance(48_000, 480, RATE_HZ, &faster, |_| {});
        assert_eq!(song.beat_at(24_000), Some(1.0));
        assert!((song.beat_at(60_000).unwrap_or(0.0) - 3.0).abs() < 1e-9);
    }

    #[test]
    fn a_mark_stands_where_the_song_jumps_and_nowhere_else() {
        let mut teller = PlaceTeller::default();
        let mut mark = |frame: u64, song: Option<i64>| {
            let cue = Cue { playing: song.is_some(), song_frame: song, ..Cue::default() };
            teller.advance(frame, RATE_HZ, &cue).map(|mark| (mark.time_s, mark.song_s))
        };
        assert_eq!(mark(0, None), None);
        assert_eq!(mark(48_000, Some(480_000)), Some((1.0, Some(10.0))));
        assert_eq!(mark(49_000, Some(481_003)), None, "rounded by the host");
        assert_eq!(mark(96_000, Some(480_000)), Some((2.0, Some(10.0))), "a loop");
        assert_eq!(mark(97_000, None), Some((97.0 / 48.0, None)));
        assert_eq!(mark(98_000, None), None);
        assert_eq!(mark(99_000, Some(i64::MAX)), None, "no place that a song has");
        assert_eq!(mark(144_000, Some(-48_000)), Some((3.0, Some(-1.0))));
    }

    #[test]
    fn a_standing_transport_has_no_beats_and_no_bars() {
        let mut song = SongClock::default();
        let still = Cue { playing: false, ..cue_at(0) };
        song.advance(0, 96_001, RATE_HZ, &still, |bar| panic!("{bar:?}"));
        assert_eq!(song.beat_at(10), None);
    }

    #[test]
    fn nonsense_from_a_host_is_survived() {
        for bad in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1e300] {
            let mut song = SongClock::default();
            let cue = Cue {
                tempo_bpm: Some(bad),
                beat: Some(bad),
                bar_start_beat: Some(bad),
                bar_beats: Some(bad),
                ..cue_at(0)
            };
            let mut count = 0;
            song.advance(0, 2048, RATE_HZ, &cue, |_| count += 1);
            assert!(count <= 65, "{bad} gave {count} bars");
        }
    }
}

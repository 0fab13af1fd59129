use super::*;
use crate::song::BarCounter;

const RATE_HZ: f64 = 48_000.0;
/// A quarter note at 120 beats a minute, frames.
const BEAT: i64 = 24_000;

/// A song of a host: the frame at which each stretch starts, with its beat, its tempo, its bar and
/// its meter. It ends with the last.
struct Song(Vec<(i64, f64, f64, i32, f64)>);

impl Song {
    /// Bars of four at 120, from the ninth on at 90, from the thirteenth on of three. Bar 9 starts at
    /// frame 768,000 (16 s), bar 13 at 1,280,000 (26.667 s), 2 s apart from there on.
    fn with_changes() -> Self {
        let (tempo, meter) = (8 * 4 * BEAT, 8 * 4 * BEAT + 16 * BEAT * 4 / 3);
        Self(vec![
            (0, 0.0, 120.0, 0, 4.0),
            (tempo, 32.0, 90.0, 8, 4.0),
            (meter, 48.0, 90.0, 12, 3.0),
        ])
    }

    fn cue(&self, frame: i64) -> Cue {
        let at = self.0.partition_point(|part| part.0 <= frame).max(1) - 1;
        let (from, beat, bpm, number, length) = self.0[at];
        let now = beat + (frame - from) as f64 * bpm / 60.0 / RATE_HZ;
        let bars = ((now - beat) / length + 1e-9).floor();
        Cue {
            playing: true,
            song_frame: Some(frame),
            tempo_bpm: Some(bpm),
            beat: Some(now),
            bar_start_beat: Some(beat + bars * length),
            bar_number: Some(number + bars as i32),
            bar_counted: false,
            bar_beats: Some(length),
        }
    }

    /// The same from a host that gives no numbers: the framework counts as if the meter had always
    /// been that of now.
    fn counted(&self, frame: i64) -> Cue {
        let cue = self.cue(frame);
        let number = (cue.beat.unwrap_or(0.0) / cue.bar_beats.unwrap_or(4.0)).floor() as i32;
        Cue { bar_number: Some(number), bar_counted: true, ..cue }
    }
}

struct Line {
    counter: BarCounter,
    teller: BarTeller,
    inbox: Consumer<Stretch>,
    map: BarMap,
}

impl Line {
    fn new() -> Self {
        let mut teller = BarTeller::default();
        let inbox = teller.connect(RATE_HZ);
        let mut counter = BarCounter::default();
        counter.set_rate(RATE_HZ);
        Self { counter, teller, inbox, map: BarMap::default() }
    }

    fn play(&mut self, cue: impl Fn(i64) -> Cue, from: i64, to: i64, block: i64) {
        let mut at = from;
        while at < to {
            let frames = block.min(to - at);
            let mut cue = cue(at);
            self.counter.count(&mut cue, frames as usize);
            self.teller.tell(&cue, frames as usize);
            at += frames;
            self.take();
        }
    }

    fn stop(&mut self) {
        self.teller.tell(&Cue::default(), 64);
        self.take();
    }

    fn take(&mut self) {
        while let Ok(stretch) = self.inbox.pop() {
            self.map.take(stretch);
        }
    }

    /// The bars at some seconds of the song.
    fn bars(&self, seconds: &[f64]) -> Vec<Option<i64>> {
        let bar = |s: &f64| self.map.at((s * RATE_HZ) as i64).map(|bar| bar.floor() as i64);
        seconds.iter().map(bar).collect()
    }
}

const PLACES: [f64; 7] = [0.1, 3.9, 15.9, 16.1, 26.5, 26.8, 29.0];
const BARS: [Option<i64>; 7] = [Some(1), Some(2), Some(8), Some(9), Some(12), Some(13), Some(14)];

#[test]
fn bars_follow_tempo_and_meter_for_any_block_size() {
    let song = Song::with_changes();
    for block in [32, 480, 777, 96_000] {
        let mut line = Line::new();
        line.play(|frame| song.cue(frame), 0, 30 * 48_000, block);
        line.stop();
        // A host tells of a change at the start of a block; the one that it falls into is on the old
        // line, as for everybody else.
        if block < 1_000 {
            assert_eq!(line.bars(&PLACES), BARS, "block of {block}");
            assert_eq!(line.map.stretches.len(), 3, "block of {block}");
        }
        assert_eq!(line.bars(&[30.5, -1.0]), [None, None], "never played");
        assert_eq!(line.bars(&[3.9, 22.0, 29.0]), [Some(2), Some(11), Some(14)]);
    }
}

/// Bars are known while the song plays, a second behind at most.
#[test]
fn what_plays_is_told_within_a_second() {
    let (song, mut line) = (Song::with_changes(), Line::new());
    line.play(|frame| song.cue(frame), 0, 10 * 48_000, 512);
    assert_eq!(line.bars(&[0.1, 8.9]), [Some(1), Some(5)]);
}

#[test]
fn a_loop_and_a_jump_keep_every_place() {
    let (song, mut line) = (Song::with_changes(), Line::new());
    let cue = |frame| song.cue(frame);
    line.play(cue, 0, 20 * 48_000, 512);
    for _ in 0..50 {
        line.play(cue, 14 * 48_000, 18 * 48_000, 512);
    }
    line.play(cue, 26 * 48_000, 30 * 48_000, 512);
    line.stop();
    let mut expected = BARS;
    assert_eq!(line.bars(&PLACES), {
        // 20 to 26 s was skipped, and 26.5 s was played.
        expected[4] = Some(12);
        expected
    });
    assert_eq!(line.bars(&[22.0]), [None]);
    assert!(line.map.stretches.len() <= 5, "{:?}", line.map.stretches);
}

/// The engineer moves the tempo change: what is played again counts, the rest stays.
#[test]
fn a_later_pass_replaces_the_bars_place_by_place() {
    let (song, mut line) = (Song::with_changes(), Line::new());
    line.play(|frame| song.cue(frame), 0, 12 * 48_000, 512);
    let other = Song(vec![(0, 0.0, 60.0, 0, 4.0)]);
    line.play(|frame| other.cue(frame), 4 * 48_000, 8 * 48_000, 512);
    line.stop();
    assert_eq!(line.bars(&[1.0, 3.9, 4.1, 7.9, 8.1]), [1, 2, 2, 2, 5].map(Some));
}

#[test]
fn a_host_without_bars_tells_none_and_nonsense_is_none() {
    let song = Song::with_changes();
    let bad = |x: f64| {
        let song = &song;
        move |frame: i64| Cue { bar_beats: Some(x), ..song.cue(frame) }
    };
    let mut line = Line::new();
    line.play(|frame| Cue { tempo_bpm: None, ..song.cue(frame) }, 0, 96_000, 512);
    line.play(|frame| Cue { bar_beats: None, ..song.cue(frame) }, 0, 96_000, 512);
    line.play(|frame| Cue { song_frame: None, ..song.cue(frame) }, 0, 96_000, 512);
    line.play(|frame| Cue { playing: false, ..song.cue(frame) }, 0, 96_000, 512);
    for x in [0.0, -4.0, f64::NAN, f64::INFINITY] {
        line.play(bad(x), 0, 96_000, 512);
    }
    line.play(
        |frame| Cue { song_frame: Some(frame + (1 << 60)), ..song.cue(frame) },
        0,
        96_000,
        512,
    );
    line.stop();
    assert!(line.map.stretches.is_empty(), "{:?}", line.map.stretches);
    // What was known stays where a host falls silent.
    line.play(|frame| song.cue(frame), 0, 96_000, 512);
    line.play(|frame| Cue { bar_number: None, ..song.cue(frame) }, 0, 96_000, 512);
    assert_eq!(line.bars(&[1.0]), [Some(1)]);
}

/// VST 3 hosts tell where a bar starts and not which one it is.
#[test]
fn bars_without_numbers_are_counted_through_a_change_of_meter() {
    let (song, mut line) = (Song::with_changes(), Line::new());
    let cue = |frame| song.counted(frame);
    line.play(cue, 0, 30 * 48_000, 512);
    assert_eq!(line.bars(&PLACES), BARS);
    // After a jump into bars of three that have not gone by none can be told: beat 60 is a multiple of three.
    line.play(cue, 1_280_000 + 4 * 96_000, 38 * 48_000, 512);
    line.stop();
    assert_eq!(line.bars(&PLACES), BARS);
    assert_eq!(line.bars(&[37.0]), [None]);
    // Started off the grid of its meter, nothing is known either.
    let mut line = Line::new();
    line.play(|frame| Cue { bar_start_beat: Some(1.5), ..cue(frame) }, 0, 96_000, 512);
    line.stop();
    assert!(line.map.stretches.is_empty());
}

#[test]
fn a_rounded_place_is_no_jump_and_a_ramp_takes_little() {
    let song = Song(vec![(0, 0.0, 120.0, 0, 4.0)]);
    let mut line = Line::new();
    line.play(
        |frame| Cue {
            song_frame: Some(frame + [0, 9, -9][frame as usize / 480 % 3]),
            ..song.cue(frame)
        },
        480,
        480_000,
        480,
    );
    line.stop();
    assert_eq!(line.map.stretches.len(), 1, "{:?}", line.map.stretches);
    // From 120 to 140 in 16 s, a new tempo a block of 64.
    let mut line = Line::new();
    let ramp = |frame: i64| {
        let s = frame as f64 / RATE_HZ;
        let (bpm, beat) = (120.0 + 20.0 * s / 16.0, 2.0 * s + s * s * 20.0 / 16.0 / 120.0);
        let bar = (beat / 4.0).floor();
        Cue {
            tempo_bpm: Some(bpm),
            beat: Some(beat),
            bar_start_beat: Some(bar * 4.0),
            bar_number: Some(bar as i32),
            ..song.cue(frame)
        }
    };
    line.play(ramp, 0, 16 * 48_000, 64);
    line.stop();
    let count = line.map.stretches.len();
    assert!(count < 32, "{count} lines");
    for s in [1.0, 7.3, 12.1, 15.5] {
        let want = (2.0 * s + s * s * 20.0 / 16.0 / 120.0) / 4.0 + 1.0;
        let got = line.map.at((s * RATE_HZ) as i64).expect("known");
        assert!((got - want).abs() < 0.003, "{got} at {s} s, expected {want}");
    }
}

#[test]
fn memory_is_bounded_and_the_oldest_leaves_first() {
    let mut map = BarMap::default();
    for k in 0..MOST as i64 + 10 {
        map.take(Stretch { from: k * 1_000, to: k * 1_000 + 500, bar: 1.0, step: 1e-5 });
    }
    assert_eq!(map.stretches.len(), MOST);
    assert_eq!((map.at(9_100).is_some(), map.at(10_100).is_some()), (false, true));
    map.clear();
    assert_eq!(map.at(10_100), None);
}

/// A passage is named by the bars that it fills; a stroke that comes early belongs to its bar.
#[test]
fn a_passage_lies_in_the_bars_that_it_fills() {
    let (song, mut line) = (Song::with_changes(), Line::new());
    line.play(|frame| song.cue(frame), 0, 20 * 48_000, 512);
    line.stop();
    for (from_s, to_s, bars) in [
        (4.0, 8.0, Some((3, 4))),
        (3.97, 7.97, Some((3, 4))),
        (4.03, 8.03, Some((3, 4))),
        (4.2, 8.2, Some((3, 5))),
        (4.2, 5.0, Some((3, 3))),
        (19.0, 23.0, Some((10, 10))),
        (21.0, 25.0, None),
    ] {
        assert_eq!(line.map.bars(from_s, to_s, RATE_HZ), bars, "{from_s} to {to_s}");
    }
}

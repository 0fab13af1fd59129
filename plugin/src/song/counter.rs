//! The number of each bar, for hosts that tell where a bar starts and not which one it is.

use super::Cue;

/// Distance of a host's place from the expected one that is no jump, s. Ours: a cell.
const SAME_PLACE_S: f64 = 1e-3;
/// Distance of a bar's start from the grid of its meter that is none, bars.
const SAME_GRID: f64 = 0.002;
/// Stretches of one meter that are remembered; the ones found longest ago leave first. Ours: more than a
/// song has.
const KNOWN: usize = 32;

/// Bars by number. The framework counts them as if the song had one meter. That holds until the meter is seen
/// to change; from there on the bars are counted as they go by, and after a jump those are known that have gone
/// by before. Nothing here allocates, locks or makes a system call.
#[derive(Clone, Debug, Default)]
pub struct BarCounter {
    rate_hz: f64,
    /// Place behind the last block, frames, while the song runs.
    next: Option<i64>,
    /// Start and length of the last bar, quarter notes, and its number.
    last: Option<(f64, f64, i32)>,
    meter_changed: bool,
    known: [Known; KNOWN],
    /// Stretches ever found; the newest stands at `(found - 1) % KNOWN`.
    found: usize,
}

/// Bars of one meter that have gone by.
#[derive(Clone, Copy, Debug, Default)]
struct Known {
    /// Starts of the first and of the last bar, quarter notes.
    first: f64,
    last: f64,
    /// Length of a bar, quarter notes.
    length: f64,
    /// Number of the first bar.
    number: i32,
}

impl Known {
    /// Number of the bar that starts there; `None` of none in this stretch, or next to it.
    fn number(&self, start: f64, length: f64, beyond: f64) -> Option<i32> {
        let bars = (start - self.first) / length;
        let within = length == self.length
            && bars > -0.5
            && start < self.last + (beyond + 0.5) * length
            && (bars - bars.round()).abs() < SAME_GRID;
        within.then(|| self.number.saturating_add(bars.round() as i32))
    }
}

impl BarCounter {
    /// What follows has that sample rate, Hz.
    pub fn set_rate(&mut self, rate_hz: f64) {
        self.rate_hz = rate_hz;
    }

    /// Puts the number of the running bar in the place of the framework's, in a block of `frames` frames; `None`
    /// where it cannot be known.
    pub fn count(&mut self, cue: &mut Cue, frames: usize) {
        let place = cue.place(self.rate_hz).filter(|_| cue.playing);
        let near = SAME_PLACE_S * self.rate_hz;
        let goes_on = self.next.zip(place).is_some_and(|(a, b)| ((b - a) as f64).abs() < near);
        self.next = place.map(|place| place + frames as i64);
        if cue.playing && cue.bar_counted {
            cue.bar_number = self.number(cue, !goes_on);
        }
    }

    fn number(&mut self, cue: &Cue, jumped: bool) -> Option<i32> {
        let (start, length) = (cue.bar_start_beat?, cue.bar_beats?);
        if let Some((_, old, _)) = self.last {
            self.meter_changed |= old != length;
        }
        let number = match self.last {
            Some((from, old, number)) if !jumped => {
                Some(number.saturating_add(((start - from) / old).round() as i32))
            }
            _ if self.meter_changed => self.newest().find_map(|k| k.number(start, length, 0.0)),
            _ => {
                let bars = start / length;
                // A bar that starts off the grid of its own meter has had others before it.
                let even = (bars - bars.round()).abs() < SAME_GRID;
                even.then_some(bars.round() as i32)
            }
        };
        let new = self.last.is_none_or(|last| number != Some(last.2) || start != last.0);
        self.last = number.map(|number| (start, length, number));
        if let Some(number) = number.filter(|_| new) {
            self.remember(start, length, number);
        }
        number
    }

    /// The stretches that are remembered, the newest first.
    fn newest(&self) -> impl Iterator<Item = &Known> {
        let held = self.found.min(KNOWN);
        (1..=held).map(|back| &self.known[(self.found - back) % KNOWN])
    }

    fn remember(&mut self, start: f64, length: f64, number: i32) {
        let held = self.found.min(KNOWN);
        for back in 1..=held {
            let known = &mut self.known[(self.found - back) % KNOWN];
            if known.number(start, length, 1.0) == Some(number) {
                known.last = known.last.max(start);
                return;
            }
        }
        self.known[self.found % KNOWN] = Known { first: start, last: start, length, number };
        self.found += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::super::SongClock;
    use super::*;
    use crate::model::place::BarLine;

    const RATE_HZ: f64 = 48_000.0;
    const BLOCK: usize = 1_024;
    /// A quarter note at 120 beats a minute, frames.
    const BEAT: u64 = 24_000;
    /// Eight bars of four, then bars of three.
    const CHANGE: u64 = 32 * BEAT;

    /// What the framework makes of a host that tells no numbers.
    fn cue(frame: u64) -> Cue {
        let beat = frame as f64 / BEAT as f64;
        let (from, length) = if frame < CHANGE { (0.0, 4.0) } else { (32.0, 3.0) };
        Cue {
            playing: true,
            song_frame: Some(frame as i64),
            tempo_bpm: Some(120.0),
            beat: Some(beat),
            bar_start_beat: Some(from + ((beat - from) / length + 1e-9).floor() * length),
            bar_number: Some((beat / length).floor() as i32),
            bar_counted: true,
            bar_beats: Some(length),
        }
    }

    /// A plug-in's counter and the song of its hits.
    #[derive(Default)]
    struct Line {
        counter: BarCounter,
        song: SongClock,
        measured: u64,
    }

    impl Line {
        /// Plays from one bar of the song to another, as [`CHANGE`] has it; gives the numbers of the bar lines.
        fn play(&mut self, from: u64, to: u64) -> Vec<i64> {
            self.counter.set_rate(RATE_HZ);
            let at =
                |bar: u64| if bar <= 8 { bar * 4 * BEAT } else { CHANGE + (bar - 8) * 3 * BEAT };
            let (mut numbers, mut frame) = (Vec::new(), at(from - 1));
            while frame < at(to - 1) {
                let mut cue = cue(frame);
                let frames = BLOCK.min((at(to - 1) - frame) as usize);
                self.counter.count(&mut cue, frames);
                let mut take = |bar: BarLine| numbers.push(bar.number);
                self.song.advance(self.measured, frames, RATE_HZ, &cue, &mut take);
                frame += frames as u64;
                self.measured += frames as u64;
            }
            numbers
        }
    }

    #[test]
    fn the_bars_of_hits_are_counted_through_a_change_of_meter() {
        let mut line = Line::default();
        assert_eq!(line.play(1, 13), (1..13).collect::<Vec<_>>());
        // A loop over bars that have gone by, on both sides of the change, and beyond.
        assert_eq!(line.play(11, 15), [11, 12, 13, 14]);
        assert_eq!(line.play(7, 11), [7, 8, 9, 10]);
        assert_eq!(line.play(17, 19), [0i64; 0], "none of these has gone by");
        assert_eq!(line.play(3, 5), [3, 4]);
    }

    #[test]
    fn a_song_of_one_meter_and_a_host_with_numbers_count_as_they_are() {
        let mut line = Line::default();
        assert_eq!(line.play(1, 3), [1, 2]);
        assert_eq!(line.play(6, 8), [6, 7], "a jump in one meter");
        let mut counter = BarCounter::default();
        counter.set_rate(RATE_HZ);
        let told = Cue { bar_number: Some(99), bar_counted: false, ..cue(CHANGE + 5 * BEAT) };
        let mut same = told;
        counter.count(&mut same, BLOCK);
        assert_eq!(same, told);
        // Started off the grid of its meter nothing is known.
        let mut off = Cue { bar_start_beat: Some(1.5), ..cue(0) };
        counter.count(&mut off, BLOCK);
        assert_eq!(off.bar_number, None);
        for bad in [f64::NAN, f64::INFINITY, 0.0, -3.0] {
            let mut cue = Cue { bar_start_beat: Some(bad), bar_beats: Some(bad), ..cue(0) };
            (0..100).for_each(|_| counter.count(&mut cue, BLOCK));
        }
    }
}

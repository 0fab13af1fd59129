//! The audio thread's end of a part instance. After [`Publisher::activate`] nothing here allocates,
//! locks or makes a system call.

use std::sync::Arc;

use brunt_engine::parts::{PartCell, PartMeter, PartOnset, PartRole, PartSink};
use brunt_engine::{Ceiling, Config, ConfigError, MAX_CHANNELS};
use rtrb::{Consumer, Producer, RingBuffer};

use super::bars::BarTeller;
use super::entry::{Entry, Rings, Transport};
use super::sides::Sides;
use super::timeline::Item;
use crate::contain::survives;
use crate::song::Cue;

/// Items under way: 16 s of cells, since a host may render much faster than it plays.
const RING: usize = 16_384;
/// Readings of a ceiling under way: it changes with every few hits, and the newest alone counts.
const CEILINGS: usize = 64;

/// Measures one part and tells what it hears. Owned by the audio thread.
#[derive(Debug)]
pub struct Publisher {
    entry: Arc<Entry>,
    meter: Option<PartMeter>,
    sides: Sides,
    out: Option<Producer<Item>>,
    bars: BarTeller,
    ceilings: Option<Producer<Ceiling>>,
    /// The ceiling that was told last.
    told: Option<Ceiling>,
    run: Option<Run>,
    fault: bool,
}

/// A stretch of the song that is played without a jump.
#[derive(Clone, Copy, Debug)]
struct Run {
    /// Place in the song of the meter's first frame: the start of a cell of the timeline.
    zero: i64,
    /// Place in the song of the next frame to come.
    next: i64,
    /// Number of the next cell on the timeline.
    cell: i64,
    /// Whether that number has to be told first: at the start, and after a drop.
    tell: bool,
}

impl Publisher {
    /// The publisher of the instance that `entry` shows.
    #[must_use]
    pub fn new(entry: Arc<Entry>) -> Self {
        Self {
            entry,
            meter: None,
            sides: Sides::default(),
            out: None,
            bars: BarTeller::default(),
            ceilings: None,
            told: None,
            run: None,
            fault: false,
        }
    }

    /// What this instance shows the others.
    #[must_use]
    pub fn entry(&self) -> &Arc<Entry> {
        &self.entry
    }

    /// Gets ready for a stream. Where the stream is the same as before, what was heard stays.
    /// Allocates; any role may be chosen later without.
    ///
    /// # Errors
    /// [`ConfigError`] as from [`PartMeter::new`]; nothing has changed then.
    pub fn activate(&mut self, config: Config) -> Result<(), ConfigError> {
        let same = self.meter.as_ref().is_some_and(|meter| meter.config() == config);
        if same && !self.fault {
            return Ok(());
        }
        let meter = PartMeter::with_sides(config)?;
        self.sides.start();
        let (out, items) = ring(RING, Item::OneTake);
        let (ceilings, told) = ring(CEILINGS, Ceiling::default());
        let bars = self.bars.connect(config.sample_rate_hz);
        let rings = Rings { items, bars, ceilings: told };
        self.entry.connect(rings, config.sample_rate_hz, meter.cell_frames());
        (self.meter, self.out, self.run, self.fault) = (Some(meter), Some(out), None, false);
        (self.ceilings, self.told) = (Some(ceilings), None);
        Ok(())
    }

    /// Tells what a ceiling takes from the part's own hits, where that has changed.
    pub fn tell_ceiling(&mut self, ceiling: &Ceiling) {
        let Some(out) = &mut self.ceilings else { return };
        if self.told.as_ref() != Some(ceiling) && out.push(*ceiling).is_ok() {
            self.told = Some(*ceiling);
        }
    }

    /// Whether nothing is under way: a block that is not listened to would change nothing.
    #[must_use]
    pub fn rests(&self) -> bool {
        self.run.is_none()
    }

    /// Takes one block: `main` one slice a channel; `listens` says whether this instance measures
    /// a part and is not bypassed.
    pub fn process(&mut self, main: &[&[f32]], cue: &Cue, listens: bool) {
        let rate_hz = self.meter.as_ref().map_or(0.0, |meter| meter.config().sample_rate_hz);
        let song_frame = cue.place(rate_hz);
        self.entry.set_transport(match (cue.playing, song_frame) {
            (false, _) => Transport::Stopped,
            (true, None) => Transport::NoPosition,
            (true, Some(_)) => Transport::Runs,
        });
        if self.fault {
            return;
        }
        let place = song_frame.filter(|_| listens);
        if !survives(|| self.place(main, place)) {
            // The meter may be half changed.
            self.fault = true;
            self.run = None;
        }
    }

    /// Tells which bars a block of `frames` frames lies in, for an instance that reads others.
    pub fn tell_bars(&mut self, cue: &Cue, frames: usize) {
        self.bars.tell(cue, frames);
    }

    fn place(&mut self, main: &[&[f32]], place: Option<i64>) {
        let (Some(meter), Some(out)) = (&mut self.meter, &mut self.out) else { return };
        // Guitars and voices are what is played twice and panned apart.
        let doubled = matches!(self.entry.part(), Some(PartRole::Guitars | PartRole::Vocals));
        if !doubled {
            self.sides.start();
            meter.listen_to_sides(false);
        }
        let cell = meter.cell_frames() as i64;
        // A host may round its position: under a cell off is no jump, and the place stays that of
        // the run, so that no cell is told twice.
        let goes_on = |run: &Run| place.is_some_and(|song| (song - run.next).abs() < cell);
        if let Some(mut run) = self.run.take() {
            if goes_on(&run) {
                self.run = Some(run);
            } else {
                // As at the end of a file: what waits is given out.
                let mut feed = Feed { out, run: &mut run, entry: &self.entry };
                meter.finish(&mut feed);
                if meter.listens_to_sides() && self.sides.ends_as_one_take() {
                    feed.push(Item::OneTake);
                }
            }
        }
        let Some(song) = place else { return };
        let run = self.run.get_or_insert_with(|| {
            meter.reset();
            // Cells lie where every other part has them, in every pass: the frames ahead of the
            // first whole one, under a millisecond, are left out.
            let first = song.div_euclid(cell) + i64::from(song.rem_euclid(cell) != 0);
            meter.listen_to_sides(doubled);
            self.sides.start();
            Run { zero: first * cell, next: song, cell: first, tell: true }
        });
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let skip = ((run.zero - run.next).max(0) as usize).min(frames);
        let mut cut = [&[][..]; MAX_CHANNELS];
        for (cut, channel) in cut.iter_mut().zip(main) {
            *cut = &channel[skip..frames];
        }
        run.next += frames as i64;
        let mut feed = Feed { out, run, entry: &self.entry };
        meter.process(&cut[..main.len().min(MAX_CHANNELS)], &mut feed);
        let rate_hz = meter.config().sample_rate_hz;
        if doubled && let Some(two) = self.sides.hear(cut, rate_hz) {
            let open = self.sides.decide();
            if two != meter.listens_to_sides() {
                meter.listen_to_sides(two);
                if open && !two {
                    feed.push(Item::OneTake);
                }
            }
        }
    }
}

/// A ring whose memory has been touched once: what never was is given by the system at first use.
fn ring<T: Copy>(length: usize, some: T) -> (Producer<T>, Consumer<T>) {
    let (mut out, mut inbox) = RingBuffer::new(length);
    while out.push(some).is_ok() {}
    while inbox.pop().is_ok() {}
    (out, inbox)
}

/// Puts what the meter gives into the ring.
struct Feed<'a> {
    out: &'a mut Producer<Item>,
    run: &'a mut Run,
    entry: &'a Entry,
}

impl Feed<'_> {
    fn push(&mut self, item: Item) -> bool {
        let pushed = self.out.push(item).is_ok();
        if !pushed {
            self.entry.count_dropped();
        }
        pushed
    }

    fn strike(&mut self, onset: &PartOnset, side: Option<u8>) {
        let frame = self.run.zero + onset.frame as i64;
        let (strength, level_lufs) = (onset.strength, onset.level_lufs);
        self.push(Item::Onset { frame, strength, level_lufs, side });
    }
}

impl PartSink for Feed<'_> {
    fn cell(&mut self, cell: &PartCell) {
        // Room for both, or the place would be told and its cell be missing.
        if self.run.tell && (self.out.slots() < 2 || !self.push(Item::At(self.run.cell))) {
            self.entry.count_dropped();
        } else {
            self.run.tell = !self.push(Item::Cell(*cell));
        }
        self.run.cell += 1;
    }

    fn onset(&mut self, onset: &PartOnset) {
        self.strike(onset, None);
    }

    fn side_onset(&mut self, side: usize, onset: &PartOnset) {
        self.strike(onset, Some(side as u8));
    }
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::PartTrack;

    use crate::params::Role;

    use super::*;

    const CONFIG: Config = Config { sample_rate_hz: 48_000.0, channels: 1 };

    fn strokes(frames: usize) -> Vec<f32> {
        (0..frames)
            .map(|n| {
                let t = (n % 9_600) as f32 / 48_000.0;
                0.5 * (-t * 30.0).exp() * ((n * 7_919 % 1_000) as f32 / 500.0 - 1.0)
            })
            .collect()
    }

    fn cue(song_frame: i64) -> Cue {
        Cue { playing: true, song_frame: Some(song_frame), ..Cue::default() }
    }

    fn ready() -> Publisher {
        let mut publisher = Publisher::new(Arc::default());
        assert_eq!(publisher.activate(CONFIG), Ok(()));
        publisher
    }

    /// Plays `audio` from the place `from` in blocks of the lengths, over and over.
    fn play(publisher: &mut Publisher, audio: &[f32], from: i64, blocks: &[usize]) {
        let (mut at, mut lengths) = (0, blocks.iter().cycle());
        while at < audio.len() {
            let end = audio.len().min(at + lengths.next().expect("endless"));
            publisher.process(&[&audio[at..end]], &cue(from + at as i64), true);
            at = end;
        }
    }

    fn stopped(publisher: &mut Publisher) {
        publisher.process(&[&[0.0; 64]], &Cue::default(), true);
    }

    fn heard(publisher: &Publisher) -> PartTrack {
        publisher.entry().drain(1);
        let track = publisher.entry().with_timeline(|t| t.track(i64::MIN, i64::MAX, 0));
        track.expect("heard")
    }

    /// A place that no song has would be one that a session refuses to read back.
    #[test]
    fn a_place_beyond_any_song_is_none() {
        let audio = strokes(48_000);
        for from_s in [-3_000_000_000, 1_000_000_000] {
            let mut publisher = ready();
            play(&mut publisher, &audio, from_s * 48_000, &[512]);
            stopped(&mut publisher);
            publisher.entry().drain(1);
            let track = publisher.entry().with_timeline(|t| t.track(i64::MIN, i64::MAX, 0));
            assert!(track.is_none_or(|track| track.onsets.is_empty()), "{from_s} s");
        }
    }

    #[test]
    fn a_pass_from_the_start_is_the_part_measured_offline() {
        let audio = strokes(48_000 * 4 + 13);
        let whole =
            PartTrack::measure(PartRole::Other, "", CONFIG, &[&audio]).expect("a sound rate");
        assert!(whole.onsets.len() > 15, "{}", whole.onsets.len());
        for blocks in [&[512][..], &[1, 47, 48, 1_000], &[9_999]] {
            let mut publisher = ready();
            // The transport stood a while before.
            publisher.process(&[&audio[..777]], &Cue::default(), true);
            play(&mut publisher, &audio, 0, blocks);
            stopped(&mut publisher);
            assert_eq!(heard(&publisher), whole, "{blocks:?}");
        }
    }

    /// Left and right of a doubled guitar are told apart as of the file; one take in both is one.
    #[test]
    fn two_takes_in_one_part_are_told_apart() {
        let config = Config { channels: 2, ..CONFIG };
        let left = strokes(48_000 * 5);
        // Another take: later, and of other noise.
        let sign = |n: usize| if n * 5_003 % 997 < 498 { 1.0 } else { -1.0 };
        let mut right = vec![0.0; 700];
        right.extend(left.iter().enumerate().map(|(n, x)| x * sign(n)));
        right.truncate(left.len());
        let panned: Vec<f32> = left.iter().map(|x| 0.8 * x).collect();
        for (right, takes) in [(&right, true), (&panned, false)] {
            let planes = [&left[..], right];
            let whole = PartTrack::measure(PartRole::Guitars, "", config, &planes).expect("a rate");
            assert_eq!(!whole.sides.is_empty(), takes);
            let mut publisher = Publisher::new(Arc::new(Entry::default()));
            publisher.entry().set_role(Role::Guitars);
            publisher.activate(config).expect("a sound rate");
            for (k, (left, right)) in left.chunks(333).zip(right.chunks(333)).enumerate() {
                publisher.process(&[left, right], &cue(333 * k as i64), true);
            }
            publisher.process(&[&[0.0; 64], &[0.0; 64]], &Cue::default(), true);
            let live = heard(&publisher);
            assert_eq!((&live.cells, &live.onsets), (&whole.cells, &whole.onsets));
            assert_eq!(live.sides.len(), whole.sides.len());
            for (live, whole) in live.sides.iter().zip(&whole.sides) {
                assert!(whole.onsets.len() > 15, "{}", whole.onsets.len());
                assert_eq!(live.onsets, whole.onsets);
                let powers = |track: &PartTrack| -> Vec<f32> {
                    track.cells.iter().map(|cell| cell.weighted).collect()
                };
                assert_eq!(powers(live), powers(whole));
            }
        }
    }

    /// While the role is another one nothing is told, and afterwards everything at its place.
    #[test]
    fn a_change_of_role_moves_no_side() {
        let mut publisher = Publisher::new(Arc::new(Entry::default()));
        publisher.activate(Config { channels: 2, ..CONFIG }).expect("a sound rate");
        let left = strokes(48_000 * 7);
        let silence = vec![0.0; 480];
        for (k, left) in left.chunks(480).enumerate() {
            let role = if (300..400).contains(&k) { Role::Bass } else { Role::Guitars };
            publisher.entry().set_role(role);
            // The right side has every other stroke, of the left's signs turned now and then.
            let right: Vec<f32> = left
                .iter()
                .enumerate()
                .map(|(n, x)| if n * 5_003 % 997 < 498 { *x } else { -x })
                .collect();
            let right = if k / 20 % 2 == 0 { &right } else { &silence };
            publisher.process(&[left, right], &cue(480 * k as i64), true);
        }
        publisher.process(&[&[0.0; 64], &[0.0; 64]], &Cue::default(), true);
        let live = heard(&publisher);
        let [left, right] = &live.sides[..] else { panic!("two takes") };
        assert!(left.onsets.len() > 15 && right.onsets.len() > 7, "{}", right.onsets.len());
        for (side, step) in [(left, 9_600), (right, 19_200)] {
            for onset in &side.onsets {
                let off = (onset.frame as i64 + step / 2).rem_euclid(step) - step / 2;
                assert!(off.abs() < 48, "{} frames", off);
            }
        }
        let between = left.onsets.iter().filter(|onset| (3.01..4.0).contains(&onset.time_s));
        assert_eq!(between.count(), 0);
    }

    #[test]
    fn cells_lie_on_one_grid_wherever_the_transport_starts() {
        let audio = strokes(48_000);
        for from in [0i64, 1, 47, 48, 100_001, -50] {
            let mut publisher = ready();
            play(&mut publisher, &audio, from, &[300]);
            stopped(&mut publisher);
            let track = heard(&publisher);
            assert_eq!(track.start_frame.rem_euclid(48), 0);
            assert!((track.start_frame - from) < 48 && track.start_frame >= from, "{from}");
        }
    }

    #[test]
    fn a_host_that_rounds_its_position_makes_no_jump() {
        let audio = strokes(48_000 * 2);
        let (mut even, mut rough) = (ready(), ready());
        play(&mut even, &audio, 0, &[480]);
        for (k, block) in audio.chunks(480).enumerate() {
            let off = [0, 1, -1, 20, -20][k % 5] * i64::from(k > 0);
            rough.process(&[block], &cue(480 * k as i64 + off), true);
        }
        stopped(&mut even);
        stopped(&mut rough);
        assert_eq!(heard(&even), heard(&rough));
    }

    #[test]
    fn a_loop_replaces_and_a_mute_role_tells_nothing() {
        let audio = strokes(48_000);
        let mut publisher = ready();
        play(&mut publisher, &audio, 0, &[480]);
        let before = heard(&publisher).cells.len();
        play(&mut publisher, &vec![0.0; 24_000], 0, &[480]);
        publisher.process(&[&audio[..4_800]], &cue(480_000), false);
        let track = heard(&publisher);
        assert_eq!(track.cells.len(), before);
        assert!(track.cells[..480].iter().all(|cell| cell.weighted == 0.0));
        assert!(track.onsets.iter().all(|onset| onset.time_s > 0.45), "{:?}", track.onsets);
    }

    #[test]
    fn a_full_ring_drops_and_goes_on_at_the_right_place() {
        let mut publisher = ready();
        let audio = strokes(48_000 * 20);
        play(&mut publisher, &audio, 0, &[4_800]);
        publisher.entry().drain(1);
        assert!(publisher.entry().dropped() > 3_000, "{}", publisher.entry().dropped());
        play(&mut publisher, &audio[..48_000], 48_000 * 20, &[4_800]);
        stopped(&mut publisher);
        let track = heard(&publisher);
        assert_eq!(track.cells.len(), 21_000);
        let whole = PartTrack::measure(PartRole::Other, "", CONFIG, &[&audio]).expect("measured");
        assert_eq!(track.cells[..15_000], whole.cells[..15_000]);
        assert_eq!(track.cells[18_000], PartCell::default(), "not heard, so silent");
        // Strokes come each 200 ms.
        let last = track.onsets.last().expect("strokes").time_s;
        assert!((20.75..20.85).contains(&last), "{last}");
    }

    #[test]
    fn activating_for_the_same_stream_keeps_what_was_heard() {
        let mut publisher = ready();
        play(&mut publisher, &strokes(48_000), 0, &[480]);
        assert_eq!(publisher.activate(CONFIG), Ok(()));
        publisher.entry().drain(1);
        assert!(publisher.entry().with_timeline(|t| !t.is_empty()));
        let other = Config { sample_rate_hz: 44_100.0, ..CONFIG };
        assert_eq!(publisher.activate(other), Ok(()));
        assert!(publisher.entry().with_timeline(|t| t.is_empty() && t.rate_hz() == 44_100.0));
    }
}

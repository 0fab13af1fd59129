//! Lays the parts side by side and reads them. Runs on the registry's thread.

use std::collections::HashMap;
use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};
use std::sync::Arc;
use std::time::{Duration, Instant};

use brunt_engine::parts::timing::{Edit, edits};
use brunt_engine::parts::{PartRole, PartTrack, Session};
use brunt_report::edits::MOST_MARKERS;
use brunt_report::report::DrumStrokes;
use brunt_report::words;

use super::common::Common;
use super::ear::Ear;
use super::entry::{Entry, Transport};
use super::linked::{Linked, LinkedPart, LinkedReading, PartStatus, Places, Said, Whole};
use crate::params::Role;

/// Time between two looks while parts are there.
const LOOK: Duration = Duration::from_millis(40);
/// The same while a host renders so fast that rings fill.
const HURRY: Duration = Duration::from_millis(2);
/// The same while there is nobody to hear.
const IDLE: Duration = Duration::from_millis(250);
/// Share of a ring from which a look hurries.
const FULL: f32 = 0.05;
/// Shortest time between two readings while somebody looks at them, and while nobody does.
const READ: [Duration; 2] = [Duration::from_millis(400), Duration::from_secs(3)];
/// Times its own duration that a reading waits at least for the next while any part plays: it takes
/// half a hundredth of one core at most. Ours: with few parts a reading takes milliseconds, so that
/// only large sessions wait. At rest nothing more comes, so the last reading is made at once.
const REST: u32 = 200;
/// Time after the last look at a result from which nobody looks.
const LOOKED: Duration = Duration::from_secs(2);
/// Most pages held of all parts together: at a second and 41 kB each 70 minutes of one part, two
/// minutes of 32, in 168 MB. The pages heard longest ago leave first.
const PAGES: usize = 4096;

/// The thread's memory from look to look.
#[derive(Debug, Default)]
pub(super) struct Reader {
    look: u32,
    resets: HashMap<u64, u64>,
    mixes: HashMap<u64, Mix>,
    ears: HashMap<u64, Ear>,
    readings: u64,
}

/// What is remembered of one instance on a mix bus.
#[derive(Debug)]
struct Mix {
    resets: u64,
    /// Only what was heard after this look counts.
    since: u32,
    /// What the last reading was made from.
    print: u64,
    read: Option<(Instant, Duration)>,
    looked: (u32, Instant),
    linked: Linked,
    /// Numbers of the instances that the parts of `linked` are.
    lines: Vec<u64>,
}

impl Reader {
    /// A new one behind one whose look has failed: it goes on counting, since what was heard is marked with its
    /// looks.
    pub(super) fn renewed(&self) -> Self {
        Self { look: self.look, readings: self.readings, ..Self::default() }
    }

    /// One look at all instances; gives the time until the next.
    pub(super) fn look(&mut self, entries: &[Arc<Entry>]) -> Duration {
        self.look += 1;
        let mut fullest = 0.0f32;
        for entry in entries {
            fullest = entry.drain(self.look).max(fullest);
            let resets = entry.resets();
            let reset = self.resets.insert(entry.number(), resets).is_some_and(|r| r != resets);
            if reset {
                entry.with_bars(|bars| bars.clear());
                entry.with_levels(|levels| levels.clear());
                entry.with_hits(|hits| hits.clear());
            }
            if entry.part().is_none() || reset {
                entry.with_timeline(|timeline| timeline.clear());
                self.ears.remove(&entry.number());
            }
            if let Some(partner) = entry.partner() {
                fullest = partner.drain(self.look).max(fullest);
                if entry.part().is_none() || reset {
                    partner.with_timeline(|timeline| timeline.clear());
                }
                // Most rhythms are read against the drums.
                let drums = entry.part() == Some(PartRole::Drums);
                partner.set_role(if drums { Role::Other } else { Role::Drums });
            }
        }
        let mut parts: Vec<&Entry> =
            entries.iter().map(|entry| &**entry).filter(|entry| entry.part().is_some()).collect();
        parts.sort_by_cached_key(|part| (part.part(), part.name(), part.number()));
        let partners = parts.iter().filter_map(|part| part.partner()).map(|partner| &**partner);
        bound(&parts.iter().copied().chain(partners).collect::<Vec<_>>());
        let follows = entries.iter().any(|entry| entry.part().is_none() && entry.follows());
        for entry in entries {
            entry.set_followed(follows && entry.part().is_some());
            let mix = self.mixes.entry(entry.number()).or_insert_with(|| Mix::new(entry));
            mix.linked.others = entries.len() - 1;
            // A part reads itself against its side-chain; the mix reads all.
            let mut pair: Vec<&Entry> = match (entry.part(), entry.partner()) {
                (Some(_), Some(partner)) => vec![entry, partner],
                _ => Vec::new(),
            };
            pair.sort_by_key(|part| part.part());
            let heard = if entry.part().is_some() { &pair } else { &parts };
            let nobody = mix.looked.1.elapsed() > LOOKED;
            mix.linked.own = entry
                .part()
                .and_then(|_| self.ears.entry(entry.number()).or_default().look(entry, nobody));
            mix.look(entry, heard, self.look, &mut self.readings);
        }
        let there = |number: &u64| entries.iter().any(|entry| entry.number() == *number);
        self.mixes.retain(|number, _| there(number));
        self.resets.retain(|number, _| there(number));
        self.ears.retain(|number, _| there(number));
        match (parts.is_empty(), fullest > FULL) {
            (true, _) => IDLE,
            (_, true) => HURRY,
            _ => LOOK,
        }
    }
}

/// Holds memory down.
fn bound(parts: &[&Entry]) {
    let held: usize = parts.iter().map(|part| part.with_timeline(|t| t.len())).sum();
    if held <= PAGES {
        return;
    }
    let mut looks: Vec<u32> = Vec::with_capacity(held);
    for part in parts {
        part.with_timeline(|timeline| looks.extend(timeline.pages(0).map(|(_, look)| look)));
    }
    looks.sort_unstable();
    let last = looks[held - PAGES - 1];
    parts.iter().for_each(|part| part.with_timeline(|timeline| timeline.forget_until(last)));
}

impl Mix {
    fn new(entry: &Entry) -> Self {
        Self {
            resets: entry.resets(),
            since: 0,
            print: 0,
            read: None,
            looked: (entry.looked(), Instant::now()),
            linked: Linked::default(),
            lines: Vec::new(),
        }
    }

    fn look(&mut self, entry: &Entry, parts: &[&Entry], look: u32, readings: &mut u64) {
        let now = Instant::now();
        if self.resets != entry.resets() {
            self.resets = entry.resets();
            self.since = look;
            self.linked.places = Places::default();
            if entry.part().is_none() {
                parts.iter().for_each(|part| part.restart());
            }
        }
        if self.looked.0 != entry.looked() {
            self.looked = (entry.looked(), now);
        }
        let print = self.print(entry, parts);
        let nobody = usize::from(now - self.looked.1 > LOOKED);
        let plays = parts.iter().any(|part| part.transport() != Transport::Stopped);
        let rest = if plays { REST } else { 0 };
        let due = self.read.is_none_or(|(at, took)| now - at >= READ[nobody].max(took * rest));
        if print != self.print && due {
            self.print = print;
            *readings += 1;
            self.read(entry, parts, *readings);
            self.read = Some((now, now.elapsed()));
        }
        // Told ready made, so that it waits for no reading but the first, and needs no place in the song.
        for (line, number) in self.linked.parts.iter_mut().zip(&self.lines) {
            let sounds = matches!(line.status, PartStatus::Heard | PartStatus::NoPosition);
            line.ceiling = if sounds && line.role == PartRole::Drums {
                parts.iter().find(|part| part.number() == *number).and_then(|part| part.ceiling())
            } else {
                None
            };
        }
        entry.show(&self.linked);
    }

    /// A number that changes with whatever a reading depends on.
    fn print(&self, entry: &Entry, parts: &[&Entry]) -> u64 {
        let mut hasher = DefaultHasher::new();
        let limits = entry.limits();
        (self.since, limits.watch_db.to_bits(), limits.leaking_db.to_bits()).hash(&mut hasher);
        rate(entry).to_bits().hash(&mut hasher);
        if !parts.is_empty() {
            entry.with_bars(|bars| bars.told()).hash(&mut hasher);
            entry.with_hits(|hits| hits.told()).hash(&mut hasher);
        }
        for part in parts {
            let changes = part.with_timeline(|timeline| timeline.changes());
            (part.number(), changes, part.part(), part.name()).hash(&mut hasher);
            part.trim_ms().to_bits().hash(&mut hasher);
            (part.transport() as u8, part.is_unplaced()).hash(&mut hasher);
        }
        // Never 0, which stands for no reading.
        hasher.finish() | 1
    }

    fn read(&mut self, entry: &Entry, parts: &[&Entry], number: u64) {
        let rate_hz = rate(entry);
        let since = self.since;
        let heard = |part: &&Entry| match rate(part) == rate_hz {
            true => part.with_timeline(|timeline| timeline.heard(since)),
            false => Vec::new(),
        };
        let common = Common::of(&parts.iter().map(heard).collect::<Vec<_>>());
        let mut tracks = Vec::new();
        self.linked.parts.clear();
        self.lines = parts.iter().map(|part| part.number()).collect();
        for (part, counts) in parts.iter().zip(&common.counts) {
            let mut line = LinkedPart {
                name: part.name(),
                role: part.part().unwrap_or_default(),
                ..LinkedPart::default()
            };
            let track = if *counts { track(part, &common, since) } else { None };
            line.status = match &track {
                _ if rate(part) != rate_hz && rate_hz > 0.0 && rate(part) > 0.0 => {
                    PartStatus::OtherRate
                }
                None if part.is_unplaced() => PartStatus::NoPosition,
                None => PartStatus::Waiting,
                Some(track) if track.is_silent() => PartStatus::Silent,
                Some(_) => PartStatus::Heard,
            };
            if let Some(track) = track.filter(|_| line.status == PartStatus::Heard) {
                tracks.push(track);
            }
            self.linked.parts.push(line);
        }
        self.linked.reading = None;
        if tracks.is_empty() {
            return;
        }
        let cell_frames = tracks[0].cell_frames;
        let mut session = Session { tracks };
        let mut mix_hits = Vec::new();
        if entry.part().is_none() {
            mix_hits = common.hits(entry.with_hits(|hits| hits.all()), cell_frames);
            // Where the mix is none of theirs, or too little was heard, parts count as they come.
            let levels = common.levels(entry.with_levels(|levels| levels.all()), cell_frames);
            session.bring_to_levels_of(&levels);
        }
        let mut reading = session.read_at(&entry.limits(), &mix_hits);
        entry.with_bars(|bars| bars.fill(&mut reading.timing, rate_hz));
        let start_s = |track: &PartTrack| track.start_frame as f64 / rate_hz;
        let starts = session.tracks.iter().map(start_s);
        let ends = session.tracks.iter().map(|track| start_s(track) + track.duration_s());
        let passage_s =
            (starts.fold(f64::INFINITY, f64::min), ends.fold(f64::NEG_INFINITY, f64::max));
        self.linked.places.take(&reading, passage_s);
        let mut moves = edits(&session.tracks);
        moves.truncate(MOST_MARKERS);
        let placed = entry.with_bars(|bars| {
            let bar = |edit: &Edit| bars.bar(edit.time_s - edit.late_ms * 1e-3, rate_hz);
            moves.iter().map(|edit| (*edit, bar(edit))).collect()
        });
        let strokes = DrumStrokes::all(&session.tracks);
        for track in &mut session.tracks {
            // Names, onsets and places are asked for later, cells are not.
            (track.cells, track.sides) = (Vec::new(), Vec::new());
        }
        let heard = self.linked.parts.iter_mut().filter(|p| p.status == PartStatus::Heard);
        for (index, (line, row)) in heard.zip(&reading.rows).enumerate() {
            line.reference = reading.timing.reference == Some(index);
            (line.offset_ms, line.spread_ms, line.costs) =
                (row.offset_ms, row.spread_ms, row.costs);
            line.suggested = row.suggested.map(|suggested| suggested.role);
            line.passages =
                reading.timing.parts[index].iter().flat_map(|part| part.passages.clone()).collect();
            let doubles = reading.timing.doubles.iter().filter(|double| double.second == index);
            line.doubles = doubles.map(|d| words::double_says(&session.tracks, d)).collect();
        }
        let said = words::parts_say(&session.tracks, &reading);
        self.linked.reading = Some(LinkedReading {
            leaks: [reading.timing.leak, reading.clutter.leak, reading.drive.leak],
            said: said.map(|(says, advice)| Said { says, advice }),
            passage_s: Some(passage_s),
            whole: Some(Whole {
                number,
                session: Arc::new(session),
                reading: Arc::new(reading),
                edits: Arc::new(placed),
                strokes: Arc::new(strokes),
            }),
        });
    }
}

/// Sample rate that an instance runs at, Hz; 0 before it was activated.
fn rate(entry: &Entry) -> f64 {
    entry.with_timeline(|timeline| timeline.rate_hz())
}

/// What was heard of a part after the look `since` on what it shares with the others.
fn track(part: &Entry, common: &Common, since: u32) -> Option<PartTrack> {
    let (first, last) = common.pages()?;
    let mut track = part.with_timeline(|timeline| timeline.track(first, last, since))?;
    common.cut(&mut track);
    track.name = part.name();
    track.role = part.part().unwrap_or_default();
    track.start_frame += (part.trim_ms() * 1e-3 * track.sample_rate_hz).round() as i64;
    for side in &mut track.sides {
        (side.name, side.role) = (track.name.clone(), track.role);
        side.start_frame = track.start_frame;
    }
    Some(track)
}

#[cfg(test)]
mod tests;

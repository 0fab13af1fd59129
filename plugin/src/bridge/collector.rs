//! The GUI side's end of the bridge: gathers what the queues hold.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::Ordering;

use brunt_engine::{
    BandStats, HitShape, LeakKind, Leaks, Mids, Need, PartLeak, Readings, ShapeStats, SideRole,
    Thresholds,
};
use brunt_report::report::{DrumStrokes, ShapeReport, SpectrumReport};
use crossbeam::queue::ArrayQueue;

use super::wires::{Stamped, Wires};
use crate::display::{Display, Live, MAX_BARS, MAX_HITS, MAX_PLACES, MAX_WAVES};
use crate::kept::KeptPass;
use crate::state::SavedPass;

/// Shapes of hits that wait for the linked parts to say which drum they are of. Ours: the newest of a song
/// of five minutes, at 350 bytes each.
const SHAPES_KEPT: usize = 1024;

/// Everything drained so far.
#[derive(Debug, Default)]
pub(super) struct Collector {
    display: Display,
    /// The pass that a session had saved, while it is on display.
    saved: Option<SavedPass>,
    /// What [`Shelf::changes`](crate::reference::Shelf::changes) was when it was last shown.
    reference: u64,
    /// How often what is heard of the parts had changed when it was last shown.
    links: u64,
    /// The leaks as they were measured, without what the parts show.
    alone: Leaks,
    /// What the shapes of the hits are read from: the mix, the side-chain.
    shapes: [ShapeStats; 2],
    /// Those of the mix's newest hits, oldest first, at most [`SHAPES_KEPT`].
    newest: VecDeque<HitShape>,
    /// The same of the spectra.
    bands: BandStats,
    /// What the side-chain was said to carry when its shapes came.
    side_role: SideRole,
    /// Whether this instance hears a part.
    part: bool,
    /// The epoch that `display` belongs to; older items are void.
    epoch: u64,
}

/// Largest sample of what is no more than a silent mix's hiss, dBFS. Ours: the number of BS.1770's
/// absolute gate.
const HISS_DBFS: f64 = -70.0;

/// Whether anything has played in what was measured.
fn has_played(readings: &Readings) -> bool {
    readings.loudness.sample_peak_dbfs.is_some_and(|peak| peak > HISS_DBFS)
}

impl Collector {
    /// Brings the display up to date with the queues and the atomics.
    pub(super) fn drain(&mut self, wires: &Wires) -> &mut Display {
        self.enter(wires.epochs.running());
        let mut changed = self.read_role(wires);
        changed |= self.drain_snapshots(wires);
        // Hits alone may come ahead of the snapshot that tells of them: they take a saved pass's place,
        // which takes nothing of what comes in silence, too.
        let hits = self.take(&wires.hits);
        if !hits.is_empty() {
            self.replace_saved_pass();
            changed = true;
        }
        hits.into_iter().for_each(|hit| bounded(&mut self.display.hits, hit, MAX_HITS));
        // A pass whose first bars are silent starts with them.
        changed |= self.put_later(&wires.bars, |display, bar| {
            bounded(&mut display.bars, bar, MAX_BARS);
        });
        changed |= self.put_later(&wires.places, |display, mark| {
            bounded(&mut display.places, mark, MAX_PLACES);
        });
        changed |= self.put(&wires.waves, |display, wave| {
            bounded(&mut display.waves, wave, MAX_WAVES);
        });
        changed |= self.drain_shapes(wires);
        let part = self.part;
        changed |= self.put(&wires.history, |display, mut point| {
            if part {
                point.costs_db = ceiling_alone(point.costs_db);
            }
            display.song.add(&point);
            display.fine.add(&point);
        });
        changed |= self.read_cells(wires);
        if let Some(news) = wires.exporter.news(&self.display.exported) {
            self.display.exported = news;
            changed = true;
        }
        changed |= self.read_reference(wires);
        changed |= self.read_links(wires);
        self.display.generation += u64::from(changed);
        &mut self.display
    }

    /// Clears the display, and voids everything before the epoch `next`.
    pub(super) fn clear_until_reset(&mut self, next: u64) {
        self.enter(next);
        self.clear();
    }

    /// Shows a saved pass, or takes a shown one away, unless something has played since.
    pub(super) fn restore(&mut self, pass: Option<SavedPass>) {
        if self.saved.is_none() && has_played(&self.display.readings) {
            return;
        }
        self.clear();
        if let Some(pass) = pass {
            self.show(pass);
        }
    }

    /// Makes of the pass on display, where something has played in it, one as a session has saved it.
    pub(super) fn keep_showing(&mut self, thresholds: Thresholds) {
        if self.saved.is_some() || !has_played(&self.display.readings) {
            return;
        }
        if let Some(pass) = SavedPass::of(&self.display, thresholds) {
            self.clear();
            self.show(pass);
        }
    }

    fn show(&mut self, pass: SavedPass) {
        let drawn = pass.display();
        self.saved = Some(pass);
        let display = &mut self.display;
        display.song = drawn.song;
        display.readings = drawn.readings;
        display.hits = drawn.hits;
        display.bars = drawn.bars;
        display.linked = drawn.linked;
        display.shape = drawn.shape;
        display.side_shape = drawn.side_shape;
        display.drum_shapes = drawn.drum_shapes;
        display.spectrum = drawn.spectrum;
        display.from_saved_pass = true;
        self.links = 0;
    }

    /// Changes the kept passes; `change` tells whether anything has changed.
    pub(super) fn change_kept(
        &mut self,
        change: impl FnOnce(&mut Vec<KeptPass>, &Display) -> bool,
    ) {
        let mut kept = std::mem::take(&mut self.display.kept);
        let changed = change(&mut kept, &self.display);
        self.display.kept = kept;
        self.display.generation += u64::from(changed);
    }

    /// The kept passes.
    pub(super) fn kept(&self) -> Vec<KeptPass> {
        self.display.kept.clone()
    }

    /// The pass to save with the session.
    pub(super) fn pass(&self, thresholds: Thresholds) -> Option<SavedPass> {
        self.saved.clone().or_else(|| SavedPass::of(&self.display, thresholds))
    }

    /// Enters an epoch; a new one clears what was gathered. A saved pass stays until something has
    /// played: a host that sets up its audio starts an epoch, too.
    fn enter(&mut self, epoch: u64) {
        if epoch <= self.epoch {
            return;
        }
        self.epoch = epoch;
        if !self.display.from_saved_pass {
            self.clear();
        }
    }

    /// Something has played: a saved pass gives way to it.
    fn replace_saved_pass(&mut self) {
        if self.display.from_saved_pass {
            self.clear();
        }
    }

    fn clear(&mut self) {
        let display = &mut self.display;
        display.generation += 1;
        display.readings = Readings::default();
        display.live = Live::default();
        display.hits.clear();
        display.bars.clear();
        display.places.clear();
        display.shape = None;
        display.side_shape = None;
        display.drum_shapes = Arc::default();
        display.spectrum = None;
        display.waves.clear();
        self.shapes.iter_mut().for_each(ShapeStats::clear);
        self.newest.clear();
        self.bands.clear();
        display.fine.clear();
        display.song.clear();
        display.dropped = 0;
        display.from_saved_pass = false;
        self.saved = None;
        self.alone = Leaks::default();
        // Shown again at the next look.
        display.linked = Arc::default();
        self.links = 0;
    }

    fn drain_snapshots(&mut self, wires: &Wires) -> bool {
        let mut newest = None;
        for _ in 0..wires.snapshots.len() {
            newest = wires.snapshots.pop().or(newest);
        }
        let Some(Stamped { epoch, item }) = newest else { return false };
        self.enter(epoch);
        // Of silence a saved pass stays: hosts run their plug-ins while nothing plays, and a session that
        // is opened and saved again must not lose what it held.
        if epoch < self.epoch || (self.display.from_saved_pass && !has_played(&item)) {
            return false;
        }
        self.replace_saved_pass();
        self.alone = item.leaks;
        self.display.readings = item;
        self.show_leaks();
        true
    }

    fn show_leaks(&mut self) {
        let leaks = &mut self.display.readings.leaks;
        if !self.display.from_saved_pass {
            *leaks = if self.part { of_a_part(&self.alone) } else { self.alone };
        }
        self.display.linked.fill(leaks);
    }

    /// Takes note of whether this instance hears a part: of the mix's leaks that shows its ceiling alone.
    fn read_role(&mut self, wires: &Wires) -> bool {
        let part = wires.links().part().is_some();
        let changed = std::mem::replace(&mut self.part, part) != part;
        if changed {
            self.show_leaks();
        }
        changed
    }

    /// What a queue holds now, and no more: the audio thread of a fast offline render could otherwise
    /// keep this busy for ever. Of the newest epoch alone.
    fn take<T>(&mut self, queue: &ArrayQueue<Stamped<T>>) -> Vec<T> {
        let mut items = Vec::new();
        for _ in 0..queue.len() {
            let Some(Stamped { epoch, item }) = queue.pop() else { break };
            if epoch > self.epoch {
                items.clear();
                self.enter(epoch);
            }
            if epoch == self.epoch {
                items.push(item);
            }
        }
        items
    }

    /// The same, unless a saved pass is on display: then it stays where it is, for the pass that follows.
    fn put_later<T>(
        &mut self,
        queue: &ArrayQueue<Stamped<T>>,
        put: impl Fn(&mut Display, T),
    ) -> bool {
        !self.display.from_saved_pass && self.put(queue, put)
    }

    /// Puts what a queue holds on display, unless a saved pass is there; gives whether anything was.
    fn put<T>(&mut self, queue: &ArrayQueue<Stamped<T>>, put: impl Fn(&mut Display, T)) -> bool {
        let items = self.take(queue);
        let any = !items.is_empty() && !self.display.from_saved_pass;
        if any {
            items.into_iter().for_each(|item| put(&mut self.display, item));
        }
        any
    }

    /// Takes the shapes of the hits. What the side-chain carried under another role is no part of
    /// its shape.
    fn drain_shapes(&mut self, wires: &Wires) -> bool {
        let role = self.display.readings.compare.map(|compare| compare.role);
        let mut changed = [false; 2];
        if let Some(role) = role
            && std::mem::replace(&mut self.side_role, role) != role
        {
            self.shapes[1].clear();
            changed[1] = true;
        }
        let shapes = self.take(&wires.shapes);
        if !shapes.is_empty() {
            self.replace_saved_pass();
        }
        for shape in shapes {
            let bus = usize::from(shape.side);
            self.shapes[bus].add(&shape);
            if !shape.side {
                bounded(&mut self.newest, shape, SHAPES_KEPT);
            }
            changed[bus] = true;
        }
        let bands = self.take(&wires.hit_bands);
        if !bands.is_empty() {
            self.replace_saved_pass();
            bands.iter().for_each(|bands| self.bands.add(bands));
            self.display.spectrum = SpectrumReport::of(&self.bands).map(Arc::new);
        }
        let [main, side] = &self.shapes;
        if changed[0] {
            self.display.shape = ShapeReport::of(main).map(Arc::new);
        }
        if changed[1] {
            self.display.side_shape = ShapeReport::of(side).map(Arc::new);
        }
        !bands.is_empty() || changed != [false; 2]
    }

    fn read_reference(&mut self, wires: &Wires) -> bool {
        let now = wires.reference().changes();
        if now == self.reference {
            return false;
        }
        self.reference = now;
        self.display.reference = wires.reference().shown();
        true
    }

    /// Takes what the parts have shown. A saved pass keeps its own until parts are heard.
    fn read_links(&mut self, wires: &Wires) -> bool {
        let track = wires.links().track_name();
        let named = track != self.display.track_name;
        self.display.track_name = track;
        let (now, linked) = wires.links().linked();
        if now == self.links {
            return named;
        }
        self.links = now;
        let saved = self.display.from_saved_pass && !self.display.linked.parts.is_empty();
        if saved && linked.reading.is_none() {
            return named;
        }
        self.display.linked = linked;
        self.show_leaks();
        self.show_drums();
        true
    }

    /// Shares the mix's newest hits out among the drums that the linked parts have just been heard to play.
    fn show_drums(&mut self) {
        let reading = self.display.linked.reading.as_ref();
        let Some(whole) = reading.and_then(|reading| reading.whole.as_ref()) else { return };
        let (display, rate_hz) = (&self.display, self.display.sample_rate_hz);
        let place = |shape: &HitShape| display.song_s(shape.frame as f64 / rate_hz);
        let placed: Vec<(f64, &HitShape)> =
            self.newest.iter().filter_map(|shape| Some((place(shape)?, shape))).collect();
        let of = |strokes: &DrumStrokes| strokes.shape(placed.iter().copied());
        let shapes = whole.strokes.iter().filter_map(of).collect();
        self.display.drum_shapes = Arc::new(shapes);
    }

    /// Reads the atomics. Relaxed: each stands for itself, and one that is read late is read
    /// again for the next frame.
    fn read_cells(&mut self, wires: &Wires) -> bool {
        let old = &self.display;
        let new_cells = (
            if old.from_saved_pass { old.live } else { wires.live.load() },
            // After a reset that the audio thread has not seen yet, its count is of no interest.
            if self.epoch > wires.epochs.running() {
                0
            } else {
                wires.dropped.load(Ordering::Relaxed)
            },
            wires.sample_rate_hz.load(Ordering::Relaxed),
            wires.channels.load(Ordering::Relaxed),
            wires.playing.load(Ordering::Relaxed),
            wires.bypassed.load(Ordering::Relaxed),
            wires.fault.load(Ordering::Relaxed),
            wires.listening.load(),
        );
        let old_cells = (
            old.live,
            old.dropped,
            old.sample_rate_hz,
            old.channels,
            old.playing,
            old.bypassed,
            old.fault,
            old.listening,
        );
        let display = &mut self.display;
        (
            display.live,
            display.dropped,
            display.sample_rate_hz,
            display.channels,
            display.playing,
            display.bypassed,
            display.fault,
            display.listening,
        ) = new_cells;
        new_cells != old_cells
    }
}

/// The leaks that a part alone shows: the ceiling over its own hits.
fn of_a_part(leaks: &Leaks) -> Leaks {
    let unknown = PartLeak { need: Need::Mix, ..PartLeak::default() };
    Leaks {
        ceiling: leaks.ceiling,
        timing: unknown,
        clutter: unknown,
        drive: unknown,
        mids: Mids { need: Need::Mix, ..Mids::default() },
    }
}

/// The same of what leaks cost at a time, in the order of [`LeakKind::ALL`].
fn ceiling_alone(mut costs_db: [Option<f64>; 5]) -> [Option<f64>; 5] {
    for (cost, kind) in costs_db.iter_mut().zip(LeakKind::ALL) {
        *cost = cost.filter(|_| kind == LeakKind::Ceiling);
    }
    costs_db
}

/// Appends; a full list loses its oldest item.
fn bounded<T>(list: &mut VecDeque<T>, item: T, most: usize) {
    if list.len() == most {
        list.pop_front();
    }
    list.push_back(item);
}

#[cfg(test)]
mod tests;

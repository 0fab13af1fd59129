//! The audio thread's end of the bridge. Nothing here allocates, locks or makes a system call.

use std::sync::atomic::Ordering;

use brunt_engine::{
    HistoryPoint, Hit, HitBands, HitShape, HitWave, Hop, Readings, Sink, Thresholds,
};
use crossbeam::queue::ArrayQueue;

use super::Bridge;
use super::wires::Stamped;
use crate::audition::{Audition, Held, Status};
use crate::display::{BarLine, Live, PlacedHit};
use crate::links::{HitTeller, LevelTeller};
use crate::song::{PlaceMark, SongClock};

impl Bridge {
    /// Number of resets asked for by the GUI side.
    pub(crate) fn reset_requests(&self) -> u64 {
        self.epochs.requests()
    }

    /// Starts a new epoch and gives its number: everything pushed under an older one is void.
    /// Called by the audio thread, or by `activate` while the audio thread does not run.
    pub(crate) fn next_epoch(&self) -> u64 {
        self.live.store(Live::default());
        self.dropped.store(0, Ordering::Relaxed);
        // Whoever sees the new epoch also sees the emptied live values and the count.
        self.epochs.begin()
    }

    /// Says what the host runs at. Relaxed here and below: each flag stands for itself.
    pub(crate) fn set_format(&self, sample_rate_hz: f64, channels: usize) {
        self.sample_rate_hz.store(sample_rate_hz, Ordering::Relaxed);
        self.channels.store(channels, Ordering::Relaxed);
    }

    /// Says whether the transport runs and whether measuring is off.
    pub(crate) fn set_flags(&self, playing: bool, bypassed: bool) {
        self.playing.store(playing, Ordering::Relaxed);
        self.bypassed.store(bypassed, Ordering::Relaxed);
    }

    /// Says which thresholds the states in the readings come from.
    pub(crate) fn set_thresholds(&self, thresholds: Thresholds) {
        self.watch_db.store(thresholds.watch_db, Ordering::Relaxed);
        self.leaking_db.store(thresholds.leaking_db, Ordering::Relaxed);
    }

    /// Says how the audition stands.
    pub(crate) fn set_listening(&self, listening: (Status, Option<Held>)) {
        self.listening.store(listening);
    }

    /// Says whether the measuring code has failed.
    pub(crate) fn set_fault(&self, fault: bool) {
        self.fault.store(fault, Ordering::Relaxed);
    }

    /// Publishes a whole snapshot and the live values in it.
    pub(crate) fn publish(&self, epoch: u64, readings: &Readings) {
        // Only the newest snapshot counts, so a pushed-out one is no loss.
        let _ = self.snapshots.force_push(Stamped { epoch, item: *readings });
        self.live.store(Live {
            momentary_lufs: readings.loudness.momentary_lufs,
            short_term_lufs: readings.loudness.short_term_lufs,
            true_peak_dbtp: readings.loudness.true_peak_dbtp,
            psr_db: readings.loudness.psr_db,
        });
    }

    /// Publishes a bar line.
    pub(crate) fn push_bar(&self, epoch: u64, bar: BarLine) {
        self.push(&self.bars, epoch, bar);
    }

    /// Publishes where the song starts, jumps or stops.
    pub(crate) fn push_place(&self, epoch: u64, mark: PlaceMark) {
        self.push(&self.places, epoch, mark);
    }

    fn push<T>(&self, queue: &ArrayQueue<Stamped<T>>, epoch: u64, item: T) {
        if let Some(lost) = queue.force_push(Stamped { epoch, item })
            && lost.epoch == epoch
        {
            // Relaxed: a count, read for display only.
            self.dropped.fetch_add(1, Ordering::Relaxed);
        }
    }
}

/// Takes what the meter gives out while it runs, and puts it into the queues, or hands it to the
/// audition.
pub(crate) struct Feed<'a> {
    pub(crate) bridge: &'a Bridge,
    pub(crate) song: &'a SongClock,
    pub(crate) epoch: u64,
    pub(crate) audition: Option<&'a mut Audition>,
    /// How loud a mix is, for those who read its parts.
    pub(crate) levels: Option<&'a mut LevelTeller>,
    /// Where its hits are, for them.
    pub(crate) hits: Option<&'a mut HitTeller>,
}

impl Sink for Feed<'_> {
    fn hit(&mut self, hit: &Hit) {
        let placed = PlacedHit { hit: *hit, beat: self.song.beat_at(hit.frame) };
        self.bridge.push(&self.bridge.hits, self.epoch, placed);
        if let Some(hit) = self.hits.as_mut().and_then(|hits| hits.hit(hit.frame)) {
            self.bridge.links().tell_hit(hit);
        }
    }

    fn history(&mut self, point: &HistoryPoint) {
        self.bridge.push(&self.bridge.history, self.epoch, *point);
    }

    fn shape(&mut self, shape: &HitShape) {
        // Where nothing drains them, the shape is that of the newest hits: no loss to be told.
        let _ = self.bridge.shapes.force_push(Stamped { epoch: self.epoch, item: *shape });
    }

    fn wave(&mut self, wave: &HitWave) {
        let _ = self.bridge.waves.force_push(Stamped { epoch: self.epoch, item: *wave });
    }

    fn bands(&mut self, bands: &HitBands) {
        let _ = self.bridge.hit_bands.force_push(Stamped { epoch: self.epoch, item: *bands });
    }

    fn hop(&mut self, hop: &Hop) {
        if let Some(audition) = &mut self.audition {
            audition.hop(hop);
        }
        let stretch = self.levels.as_mut().and_then(|levels| levels.hop(hop));
        if let Some(stretch) = stretch {
            self.bridge.links().tell_level(stretch);
        }
    }
}

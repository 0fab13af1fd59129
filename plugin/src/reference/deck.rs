//! The audio thread's side: plays the track.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use super::shared::Shared;
use super::track::Track;

/// Frames over which the track comes and goes when the host starts and stops.
const RAMP_FRAMES: f32 = 256.0;

/// Plays the reference of one instance. After [`Deck::activate`] nothing here allocates, frees,
/// locks or makes a system call.
#[derive(Debug)]
pub struct Deck {
    shared: Arc<Shared>,
    track: Option<Arc<Track>>,
    /// An old track for which the queue back had no room.
    parked: Option<Arc<Track>>,
    /// Tracks that have come and gone.
    changes: u64,
    at: usize,
    level: f32,
    /// Whether it is played on one channel.
    mono: bool,
    block: [Vec<f32>; 2],
}

impl Deck {
    pub(super) fn new(shared: Arc<Shared>) -> Self {
        Self {
            shared,
            track: None,
            parked: None,
            changes: 0,
            at: 0,
            level: 0.0,
            mono: false,
            block: [Vec::new(), Vec::new()],
        }
    }

    /// Gets ready for blocks of up to `frames` frames of `channels` channels. Allocates.
    pub fn activate(&mut self, frames: usize, channels: usize) {
        self.mono = channels < 2;
        for channel in &mut self.block {
            channel.resize(frames, 0.0);
        }
    }

    /// Takes a new track if there is one. Once a block.
    pub fn poll(&mut self) {
        if let Some(old) = self.parked.take()
            && let Err(old) = self.shared.going.push(old)
        {
            self.parked = Some(old);
            return;
        }
        let Some(new) = self.shared.coming.pop() else { return };
        self.changes += 1;
        self.at = 0;
        self.level = 0.0;
        if let Some(old) = std::mem::replace(&mut self.track, new)
            && let Err(old) = self.shared.going.push(old)
        {
            self.parked = Some(old);
        }
    }

    /// A number that changes with what is played.
    #[must_use]
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// Whether a track is on its way: what is played until it comes is not what was chosen.
    #[must_use]
    pub fn waits(&self) -> bool {
        // Relaxed: the block in which it is seen does not matter.
        self.shared.loading.load(Ordering::Relaxed)
    }

    /// The next `frames` frames: silence, and no step forward, while the host stands. `None`
    /// without a track, or for a block longer than the longest. On one channel both are the mean of left
    /// and right.
    pub fn next(&mut self, frames: usize, playing: bool) -> Option<[&[f32]; 2]> {
        let track = self.track.as_deref()?;
        let length = track.channels[0].len();
        let [left, right] = &mut self.block;
        if length == 0 || frames > left.len() {
            return None;
        }
        let goal = if playing { 1.0 } else { 0.0 };
        for (left, right) in left.iter_mut().zip(right.iter_mut()).take(frames) {
            let step = (goal - self.level).clamp(-1.0 / RAMP_FRAMES, 1.0 / RAMP_FRAMES);
            self.level += step;
            if self.level == 0.0 {
                (*left, *right) = (0.0, 0.0);
                continue;
            }
            let [l, r] = [0, 1].map(|channel| track.channels[channel][self.at] * self.level);
            (*left, *right) = if self.mono { (0.5 * (l + r), 0.5 * (l + r)) } else { (l, r) };
            self.at = (self.at + 1) % length;
        }
        let [left, right] = &self.block;
        Some([&left[..frames], &right[..frames]])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reference::Shelf;

    fn track(levels: &[f32]) -> Arc<Track> {
        Arc::new(Track { channels: [levels.to_vec(), levels.to_vec()] })
    }

    #[test]
    fn it_plays_while_the_host_plays_and_starts_over_at_its_end() {
        let shelf = Shelf::default();
        let mut deck = shelf.deck();
        deck.activate(512, 2);
        assert_eq!(deck.next(16, true), None);
        let ramp: Vec<f32> = (0..300).map(|k| k as f32).collect();
        assert!(deck.shared.coming.push(Some(track(&ramp))).is_ok());
        deck.poll();
        let silent = deck.next(512, false).expect("loaded");
        assert!(silent[0].iter().all(|x| *x == 0.0));
        let played = deck.next(512, true).expect("loaded")[1].to_vec();
        assert_eq!(played[300..302], [0.0, 1.0], "from the start again");
        assert_eq!(played[299], 299.0, "at full level after the ramp");
        assert_eq!(deck.next(513, true), None, "longer than the longest block");
    }

    /// Half a sum is what a mono bus plays of two channels: alike ones as they are, one alone 6 dB lower.
    #[test]
    fn on_one_channel_both_are_heard() {
        let shelf = Shelf::default();
        let mut deck = shelf.deck();
        deck.activate(600, 1);
        let channels = [vec![0.5; 600], vec![0.25; 600]];
        assert!(deck.shared.coming.push(Some(Arc::new(Track { channels }))).is_ok());
        deck.poll();
        assert_eq!(deck.changes(), 1);
        let played = deck.next(600, true).expect("loaded");
        assert_eq!([played[0][599], played[1][599]], [0.375; 2]);
    }

    #[test]
    fn old_tracks_go_back_and_are_never_freed_here() {
        let shelf = Shelf::default();
        let mut deck = shelf.deck();
        deck.activate(16, 2);
        for k in 0..40 {
            let new = track(&[k as f32]);
            let weak = Arc::downgrade(&new);
            drop(deck.shared.coming.force_push(Some(new)));
            deck.poll();
            if deck.parked.is_none() {
                assert!(weak.upgrade().is_some());
                assert_eq!(deck.next(1, true).map(|b| b[0].len()), Some(1));
            }
        }
        // The queue back is full, so one waits and no new one is taken.
        assert!(deck.parked.is_some());
        assert!(deck.shared.going.is_full());
        let _ = shelf.shown();
        assert!(deck.shared.going.is_empty(), "the GUI side frees what came back");
        deck.poll();
        assert!(deck.parked.is_none(), "and there is room again");
    }
}

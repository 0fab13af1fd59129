//! Left and right of a part apart, while they are two takes of one riff.

use brunt_engine::parts::{Alikeness, PartMeter, PartOnset, PartSink};
use brunt_engine::{Config, ConfigError, MAX_CHANNELS};

use super::timeline::Item;

/// Sound after which it is told whether left and right are two takes, s. Ours: a bar; until then
/// both are listened to, so that nothing of a double is lost.
const TOLD_S: f64 = 2.0;
/// Time constant of how alike they are, s. Ours: a verse's change shows within a few bars.
const FADE_S: f64 = 10.0;

/// Finds the onsets of left and right apart. Owned by the audio thread: nothing after
/// [`Sides::new`] allocates, locks or makes a system call.
#[derive(Debug)]
pub(super) struct Sides {
    meters: [PartMeter; MAX_CHANNELS],
    alike: Alikeness,
    /// Sound since the start, s.
    heard_s: f64,
    decided: bool,
    rate_hz: f64,
    /// Place in the song of the meters' first frame; `None` while they rest.
    zero: Option<i64>,
}

impl Sides {
    /// For a stream of two channels; `None` for another. Allocates.
    pub(super) fn new(config: Config) -> Result<Option<Self>, ConfigError> {
        if config.channels != MAX_CHANNELS {
            return Ok(None);
        }
        let mono = Config { channels: 1, ..config };
        Ok(Some(Self {
            meters: [PartMeter::new(mono)?, PartMeter::new(mono)?],
            alike: Alikeness::default(),
            heard_s: 0.0,
            decided: false,
            rate_hz: config.sample_rate_hz,
            zero: None,
        }))
    }

    /// A stretch of the song begins at that frame.
    pub(super) fn start(&mut self, zero: i64) {
        self.rest();
        self.listen(zero);
    }

    /// The part is none that is doubled, for now: nothing is listened to, and what follows is new.
    pub(super) fn rest(&mut self) {
        (self.alike, self.heard_s, self.decided) = (Alikeness::default(), 0.0, false);
        self.zero = None;
    }

    fn listen(&mut self, zero: i64) {
        self.meters.iter_mut().for_each(PartMeter::reset);
        self.zero = Some(zero);
    }

    /// Takes the next frames of that stretch; the one behind them is the song's frame `next`.
    pub(super) fn process(
        &mut self,
        [left, right]: [&[f32]; MAX_CHANNELS],
        next: i64,
        tell: &mut dyn FnMut(Item),
    ) {
        let lasted_s = left.len() as f64 / self.rate_hz;
        let mut new = Alikeness::default();
        new.add(left, right);
        if !new.is_silent() {
            self.heard_s += lasted_s;
        }
        self.alike.fade((-lasted_s / FADE_S).exp());
        self.alike.merge(&new);
        if let Some(zero) = self.zero {
            for (side, (meter, input)) in self.meters.iter_mut().zip([left, right]).enumerate() {
                meter.process(&[input], &mut Teller { side: side as u8, zero, tell });
            }
        }
        if self.heard_s < TOLD_S {
            return;
        }
        match (self.alike.are_two_takes(), self.zero) {
            (false, Some(_)) => {
                self.zero = None;
                if !self.decided {
                    tell(Item::OneTake);
                }
            }
            (true, None) => self.listen(next),
            _ => {}
        }
        self.decided = true;
    }

    /// Ends the stretch and gives out what waits.
    pub(super) fn finish(&mut self, tell: &mut dyn FnMut(Item)) {
        let Some(zero) = self.zero.take() else { return };
        if self.decided || self.alike.are_two_takes() {
            for (side, meter) in self.meters.iter_mut().enumerate() {
                meter.finish(&mut Teller { side: side as u8, zero, tell });
            }
        } else {
            tell(Item::OneTake);
        }
    }
}

struct Teller<'a> {
    side: u8,
    zero: i64,
    tell: &'a mut dyn FnMut(Item),
}

impl PartSink for Teller<'_> {
    fn onset(&mut self, onset: &PartOnset) {
        (self.tell)(Item::Onset {
            frame: self.zero + onset.frame as i64,
            strength: onset.strength,
            level_lufs: onset.level_lufs,
            side: Some(self.side),
        });
    }
}

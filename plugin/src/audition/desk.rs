//! The audition as one instance of the plug-in runs it: when it may be heard, and when not.

use super::{Audition, Wish};
use crate::contain::{Place, survives, trip};
use crate::model::heard::{Heard, Held, Status};
use crate::model::roles::SideRole;

/// What is asked for in a block.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// What to let be heard.
    pub heard: Heard,
    /// Whether the plug-in is bypassed.
    pub bypass: bool,
    /// What the side-chain carries.
    pub role: SideRole,
    /// How many frames the mix comes after the side-chain; `None` where that is not known.
    pub mix_after_side: Option<f64>,
}

/// The audition of one instance.
#[derive(Debug, Default)]
pub struct Desk {
    audition: Option<Box<Audition>>,
    /// Rate and channels that it was made for.
    made_for: (f64, usize),
    offline: bool,
    failed: bool,
    held: Option<Held>,
    rests: bool,
}

impl Desk {
    /// Gets ready for a stream. Whatever was heard before, the mix is heard then. Allocates.
    pub fn activate(&mut self, rate_hz: f64, channels: usize, offline: bool) {
        self.offline = offline;
        let same = self.made_for == (rate_hz, channels) && !self.failed;
        match &mut self.audition {
            Some(audition) if same => audition.stop(),
            _ => self.audition = Some(Box::new(Audition::new(rate_hz, channels))),
        }
        self.made_for = (rate_hz, channels);
        self.failed = false;
        self.rests = false;
    }

    /// The audition, for what measures the two buses; `None` where it has failed.
    pub fn audition(&mut self) -> Option<&mut Audition> {
        self.audition.as_deref_mut().filter(|_| !self.failed)
    }

    /// Lets be heard what is asked for, in place of the mix in `out`. `side` as for
    /// [`Audition::process`].
    pub fn process(&mut self, out: &mut [&mut [f32]], side: Option<&[&[f32]]>, asked: &Asked) {
        self.listen(out, side, asked);
        let off = self.audition.as_deref().is_none_or(|audition| !audition.is_on());
        self.rests = off && side.is_none() && asked.heard == Heard::Mix;
    }

    fn listen(&mut self, out: &mut [&mut [f32]], side: Option<&[&[f32]]>, asked: &Asked) {
        self.held = self.held(side.is_some(), asked);
        let Some(audition) = self.audition.as_deref_mut().filter(|_| !self.failed) else { return };
        if self.offline {
            audition.stop();
            return;
        }
        let heard = if self.held.is_some() { Heard::Mix } else { asked.heard };
        let wish = Wish { heard, mix_after_side: asked.mix_after_side };
        // A panic must not reach the host. The mix is what the host gave, or a part of a block of
        // what was heard before; from the next block on it is the mix again.
        self.failed = !survives(|| {
            trip(Place::Audition);
            audition.process(out, side, &wish);
        });
    }

    /// Whether the last block was the mix, kept nothing and faded nothing: another like it would
    /// change nothing.
    #[must_use]
    pub fn rests(&self) -> bool {
        self.rests
    }

    /// Lets only the mix be heard until the next activation.
    pub fn fail(&mut self) {
        self.failed = true;
        self.rests = false;
    }

    /// How it stands, and why only the mix is heard where something else is asked for.
    #[must_use]
    pub fn status(&self) -> (Status, Option<Held>) {
        let status = self.audition.as_deref().filter(|_| !self.failed).map(Audition::status);
        (status.unwrap_or_default(), self.held)
    }

    fn held(&self, side: bool, asked: &Asked) -> Option<Held> {
        match asked.heard {
            Heard::Mix => None,
            _ if self.failed => Some(Held::Failed),
            _ if self.offline => Some(Held::Offline),
            _ if asked.bypass => Some(Held::Bypassed),
            _ if !side || self.audition.is_none() => Some(Held::NoSide),
            Heard::Difference if asked.role != SideRole::Before => Some(Held::NotBefore),
            Heard::Side | Heard::Difference => None,
        }
    }
}

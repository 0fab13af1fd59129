//! Whether left and right of a part are two takes of one riff, and so to be listened to apart.

use brunt_engine::MAX_CHANNELS;
use brunt_engine::parts::Alikeness;

/// Sound after which it is told whether left and right are two takes, s. Ours: a bar; until then
/// both are listened to, so that nothing of a double is lost.
const TOLD_S: f64 = 2.0;
/// Time constant of how alike they are, s. Ours: a verse's change shows within a few bars.
const FADE_S: f64 = 10.0;

/// Listens for how alike left and right are. Owned by the audio thread: nothing here allocates,
/// locks or makes a system call.
#[derive(Debug, Default)]
pub(super) struct Sides {
    alike: Alikeness,
    /// Sound since the start, s.
    heard_s: f64,
    decided: bool,
}

impl Sides {
    /// What follows is new: a stretch of the song, or a part of another role.
    pub(super) fn start(&mut self) {
        *self = Self::default();
    }

    /// Takes the next frames. Gives whether both are two takes, once enough was heard.
    pub(super) fn hear(
        &mut self,
        [left, right]: [&[f32]; MAX_CHANNELS],
        rate_hz: f64,
    ) -> Option<bool> {
        let lasted_s = left.len() as f64 / rate_hz;
        let mut new = Alikeness::default();
        new.add(left, right);
        if !new.is_silent() {
            self.heard_s += lasted_s;
        }
        self.alike.fade((-lasted_s / FADE_S).exp());
        self.alike.merge(&new);
        (self.heard_s >= TOLD_S).then(|| self.alike.are_two_takes())
    }

    /// Settles the question; gives whether it was open.
    pub(super) fn decide(&mut self) -> bool {
        !std::mem::replace(&mut self.decided, true)
    }

    /// Whether what was told apart in a stretch that ends now is void.
    pub(super) fn ends_as_one_take(&self) -> bool {
        !self.decided && !self.alike.are_two_takes()
    }
}

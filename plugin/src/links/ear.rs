//! What a part's own instance sounds like, from what was heard of it last. Runs on the registry's
//! thread.

use std::time::{Duration, Instant};

use brunt_engine::parts::RoleSuggestion;

use super::entry::Entry;

/// Pages that are listened to, the newest: a minute and a half. Ours: a verse and a refrain.
const PAGES: usize = 90;
/// Shortest time between two looks at one part while somebody looks at it, and while nobody does. Ours:
/// what a part plays does not change by the second.
const LOOK: [Duration; 2] = [Duration::from_secs(3), Duration::from_secs(30)];
/// Times its own duration that a look waits at least for the next.
const REST: u32 = 100;

/// The memory of one part's sound.
#[derive(Debug, Default)]
pub(super) struct Ear {
    /// Changes of the timeline when it was listened to.
    changes: u64,
    listened: Option<(Instant, Duration)>,
    sounds: Option<RoleSuggestion>,
}

impl Ear {
    /// What the part sounds like now; looks anew where it was heard since, and seldom, the more so
    /// where `nobody` sees it.
    pub(super) fn look(&mut self, part: &Entry, nobody: bool) -> Option<RoleSuggestion> {
        let now = Instant::now();
        let rest = |took: Duration| LOOK[usize::from(nobody)].max(took * REST);
        let due = self.listened.is_none_or(|(at, took)| now - at >= rest(took));
        let changes = part.with_timeline(|timeline| timeline.changes());
        if !due || changes == self.changes {
            return self.sounds;
        }
        let track = part.with_timeline(|timeline| {
            let mut pages: Vec<(u32, i64)> =
                timeline.pages(0).map(|(number, look)| (look, number)).collect();
            pages.sort_unstable();
            // The place that was heard last, and what lies before it.
            let &(_, last) = pages.last()?;
            timeline.track(last - PAGES as i64 + 1, last, 0)
        });
        self.sounds = track.and_then(|track| RoleSuggestion::of(&track));
        self.changes = changes;
        self.listened = Some((now, now.elapsed()));
        self.sounds
    }
}

//! What one instance shows the others.

use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

use atomic_float::AtomicF64;
use brunt_engine::parts::PartRole;
use brunt_engine::parts::levels;
use brunt_engine::{Ceiling, Thresholds};
use brunt_report::report::PartCeilingReport;
use crossbeam::queue::ArrayQueue;
use nice_plug::params::enums::Enum;
use parking_lot::Mutex;
use rtrb::Consumer;

use super::bars::{BarMap, Stretch};
use super::hits::{HitMap, MixHit};
use super::levels::LevelMap;
use super::linked::Linked;
use super::timeline::{Item, Timeline};
use crate::params::Role;

/// Stretches of a mix's level under way: 50 s of programme, of which a fast render plays two seconds
/// between two looks.
const LEVELS: usize = 512;

/// What the host's transport says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Transport {
    /// It stands still, or nothing was processed yet.
    #[default]
    Stopped,
    /// It runs, and the host gives no position.
    NoPosition,
    /// It runs.
    Runs,
}

/// Longest name of a part, characters. Ours: about what fits in a row.
pub const LONGEST_NAME: usize = 64;

/// One instance as the others see it. Atomics for what the audio thread writes; the rest is for
/// the GUI side and the registry's thread, and locks.
#[derive(Debug)]
pub struct Entry {
    role: AtomicUsize,
    trim_ms: AtomicF64,
    transport: AtomicU8,
    /// Whether the host gave no position when it ran last.
    unplaced: AtomicBool,
    dropped: AtomicU64,
    watch_db: AtomicF64,
    leaking_db: AtomicF64,
    /// How often what was heard is to be forgotten.
    resets: AtomicU64,
    /// How often a mix that hears this part was told to forget.
    restarts: AtomicU64,
    /// Whether a start of the transport resets this instance.
    follows: AtomicBool,
    /// Whether it resets a mix that hears this part.
    followed: AtomicBool,
    /// How often the result was looked at.
    looked: AtomicU32,
    /// Whether the side-chain carries another part, to read this one against.
    partnered: AtomicBool,
    partner: OnceLock<Arc<Entry>>,
    /// How loud a mix is, on the way.
    levels: ArrayQueue<levels::Stretch>,
    /// Where its hits are, on the way.
    hits: ArrayQueue<MixHit>,
    names: Mutex<Names>,
    inbox: Mutex<Inbox>,
    result: Mutex<(u64, Arc<Linked>)>,
    number: OnceLock<u64>,
}

#[derive(Debug, Default)]
struct Names {
    host: String,
    own: Option<String>,
}

#[derive(Debug, Default)]
struct Inbox {
    rings: Option<Rings>,
    timeline: Timeline,
    bars: BarMap,
    /// How loud this mix is.
    levels: LevelMap,
    /// Where its hits are.
    hits: HitMap,
    /// What was told last of its ceiling, ready to be shown.
    ceiling: Option<PartCeilingReport>,
}

/// The reading ends of a part's rings.
#[derive(Debug)]
pub(super) struct Rings {
    /// Cells and onsets.
    pub(super) items: Consumer<Item>,
    /// Bars.
    pub(super) bars: Consumer<Stretch>,
    /// What a ceiling takes from its own hits.
    pub(super) ceilings: Consumer<Ceiling>,
}

impl Default for Entry {
    fn default() -> Self {
        let limits = Thresholds::default();
        Self {
            role: AtomicUsize::new(0),
            trim_ms: AtomicF64::new(0.0),
            transport: AtomicU8::new(0),
            unplaced: AtomicBool::new(false),
            dropped: AtomicU64::new(0),
            watch_db: AtomicF64::new(limits.watch_db),
            leaking_db: AtomicF64::new(limits.leaking_db),
            resets: AtomicU64::new(0),
            restarts: AtomicU64::new(0),
            follows: AtomicBool::new(false),
            followed: AtomicBool::new(false),
            looked: AtomicU32::new(0),
            partnered: AtomicBool::new(false),
            partner: OnceLock::new(),
            levels: ArrayQueue::new(LEVELS),
            hits: ArrayQueue::new(LEVELS),
            names: Mutex::default(),
            inbox: Mutex::default(),
            result: Mutex::default(),
            number: OnceLock::new(),
        }
    }
}

/// What any thread may do, the audio thread too. Relaxed throughout: each value stands for itself.
impl Entry {
    /// Sets the role.
    pub fn set_role(&self, role: Role) {
        self.role.store(role.to_index(), Ordering::Relaxed);
    }

    /// The role.
    #[must_use]
    pub fn role(&self) -> Role {
        Role::from_index(self.role.load(Ordering::Relaxed))
    }

    /// What the part plays; `None` on the mix bus.
    #[must_use]
    pub fn part(&self) -> Option<PartRole> {
        self.role().part()
    }

    /// Sets how much later the part counts than it is heard, ms.
    pub fn set_trim_ms(&self, ms: f64) {
        self.trim_ms.store(ms, Ordering::Relaxed);
    }

    /// How much later the part counts than it is heard, ms.
    #[must_use]
    pub fn trim_ms(&self) -> f64 {
        self.trim_ms.load(Ordering::Relaxed)
    }

    /// Sets the limits of the leaks' states.
    pub fn set_limits(&self, limits: Thresholds) {
        self.watch_db.store(limits.watch_db, Ordering::Relaxed);
        self.leaking_db.store(limits.leaking_db, Ordering::Relaxed);
    }

    /// Asks to forget what was heard so far: of this part, or of all parts for this mix.
    pub fn reset(&self) {
        self.resets.fetch_add(1, Ordering::Relaxed);
    }

    /// How often a mix that hears this part was told to forget: what the part has measured of its own
    /// hits starts anew each time.
    #[must_use]
    pub fn restarts(&self) -> u64 {
        self.restarts.load(Ordering::Relaxed)
    }

    /// Says whether a start of the transport resets this instance.
    pub fn set_follows(&self, on: bool) {
        self.follows.store(on, Ordering::Relaxed);
    }

    pub(super) fn follows(&self) -> bool {
        self.follows.load(Ordering::Relaxed)
    }

    /// Says whether a start of the transport resets a mix that hears this part.
    pub(crate) fn set_followed(&self, on: bool) {
        self.followed.store(on, Ordering::Relaxed);
    }

    /// Whether a start of the transport resets a mix that hears this part: then it resets what the
    /// part has measured of its own hits, too.
    #[must_use]
    pub fn followed(&self) -> bool {
        self.followed.load(Ordering::Relaxed)
    }

    /// Says whether the side-chain carries another part.
    pub fn set_partnered(&self, on: bool) {
        self.partnered.store(on, Ordering::Relaxed);
    }

    pub(super) fn limits(&self) -> Thresholds {
        Thresholds {
            watch_db: self.watch_db.load(Ordering::Relaxed),
            leaking_db: self.leaking_db.load(Ordering::Relaxed),
        }
    }

    pub(super) fn resets(&self) -> u64 {
        self.resets.load(Ordering::Relaxed)
    }

    pub(super) fn set_transport(&self, transport: Transport) {
        self.transport.store(transport as u8, Ordering::Relaxed);
        if transport != Transport::Stopped {
            self.unplaced.store(transport == Transport::NoPosition, Ordering::Relaxed);
        }
    }

    /// Whether the host gave no position when it ran last.
    pub(super) fn is_unplaced(&self) -> bool {
        self.unplaced.load(Ordering::Relaxed)
    }

    pub(super) fn transport(&self) -> Transport {
        match self.transport.load(Ordering::Relaxed) {
            1 => Transport::NoPosition,
            2 => Transport::Runs,
            _ => Transport::Stopped,
        }
    }

    pub(super) fn count_dropped(&self) {
        self.dropped.fetch_add(1, Ordering::Relaxed);
    }

    /// Tells how loud a mix is over a stretch of the song.
    pub(crate) fn tell_level(&self, stretch: levels::Stretch) {
        // The newest count: one that is pushed out leaves a gap that the fit does without.
        let _ = self.levels.force_push(stretch);
    }

    /// Tells where a hit of a mix is.
    pub(crate) fn tell_hit(&self, hit: MixHit) {
        // The newest count: one that is pushed out is a stroke of the drums, or left out.
        let _ = self.hits.force_push(hit);
    }

    /// Items lost to a full ring.
    #[must_use]
    pub fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }
}

/// For the GUI side and the registry's thread: all of it locks.
impl Entry {
    /// Number of the instance in this process, in the order in which they came; 0 for one that has
    /// not joined.
    #[must_use]
    pub fn number(&self) -> u64 {
        self.number.get().copied().unwrap_or(0)
    }

    pub(super) fn set_number(&self, number: u64) {
        // Joining twice changes nothing.
        let _ = self.number.set(number);
    }

    /// Takes what the side-chain carries for another part, as an entry that nobody else sees.
    pub fn set_partner(&self, partner: Arc<Self>) {
        // The first one stays: there is one side-chain.
        let _ = self.partner.set(partner);
    }

    /// The part on the side-chain, while this instance is a part and the side-chain carries one.
    pub(super) fn partner(&self) -> Option<&Arc<Self>> {
        self.partner.get().filter(|_| self.partnered.load(Ordering::Relaxed))
    }

    /// Takes the name of the host's track.
    pub fn set_track_name(&self, name: &str) {
        self.names.lock().host = cut(name);
    }

    /// Takes the user's own name; an empty one gives way to the track's.
    pub fn set_own_name(&self, name: &str) {
        self.names.lock().own = Some(cut(name)).filter(|name| !name.is_empty());
    }

    /// The user's own name, where there is one.
    #[must_use]
    pub fn own_name(&self) -> Option<String> {
        self.names.lock().own.clone()
    }

    /// The name of the host's track; empty where the host gives none.
    #[must_use]
    pub fn track_name(&self) -> String {
        self.names.lock().host.clone()
    }

    /// The name that others see: the user's, or else the track's; empty where there is neither.
    #[must_use]
    pub fn name(&self) -> String {
        let names = self.names.lock();
        names.own.clone().unwrap_or_else(|| names.host.clone())
    }

    /// Takes the reading ends of new rings, with cells of `cell_frames` frames. What was heard at
    /// another rate is forgotten.
    pub(super) fn connect(&self, rings: Rings, rate_hz: f64, cell_frames: usize) {
        *self.inbox.lock() = Inbox {
            rings: Some(rings),
            timeline: Timeline::new(rate_hz, cell_frames),
            ..Inbox::default()
        };
    }

    /// Moves what has come into the timeline, in the look of that number. Gives the share of the
    /// ring that was full.
    pub(super) fn drain(&self, look: u32) -> f32 {
        let mut inbox = self.inbox.lock();
        let Inbox { rings: Some(rings), timeline, bars, levels, hits, ceiling } = &mut *inbox
        else {
            return 0.0;
        };
        // What is there now and no more: a fast render could keep this busy for ever.
        for _ in 0..rings.bars.slots() {
            let Ok(stretch) = rings.bars.pop() else { break };
            bars.take(stretch);
        }
        for _ in 0..self.levels.len() {
            let Some(stretch) = self.levels.pop() else { break };
            levels.take(stretch);
        }
        for _ in 0..self.hits.len() {
            let Some(hit) = self.hits.pop() else { break };
            hits.take(hit);
        }
        let mut newest = None;
        for _ in 0..rings.ceilings.slots() {
            newest = rings.ceilings.pop().ok().or(newest);
        }
        if let Some(newest) = &newest {
            *ceiling = Some(newest.into());
        }
        let come = rings.items.slots();
        if let Ok(items) = rings.items.read_chunk(come) {
            timeline.take(items, look);
        }
        come as f32 / rings.items.buffer().capacity() as f32
    }

    /// What a limiter or clipper takes from the part's own hits, as it was told last.
    pub(super) fn ceiling(&self) -> Option<PartCeilingReport> {
        self.inbox.lock().ceiling.clone()
    }

    /// Has the part measure its own hits anew, for a mix that was told to forget.
    pub(crate) fn restart(&self) {
        self.inbox.lock().ceiling = None;
        self.restarts.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn with_bars<T>(&self, work: impl FnOnce(&mut BarMap) -> T) -> T {
        work(&mut self.inbox.lock().bars)
    }

    pub(super) fn with_levels<T>(&self, work: impl FnOnce(&mut LevelMap) -> T) -> T {
        work(&mut self.inbox.lock().levels)
    }

    pub(super) fn with_hits<T>(&self, work: impl FnOnce(&mut HitMap) -> T) -> T {
        work(&mut self.inbox.lock().hits)
    }

    pub(super) fn with_timeline<T>(&self, work: impl FnOnce(&mut Timeline) -> T) -> T {
        work(&mut self.inbox.lock().timeline)
    }

    /// What this mix hears of the parts, and how often that has changed.
    #[must_use]
    pub fn linked(&self) -> (u64, Arc<Linked>) {
        // Relaxed: it only says that somebody looks.
        self.looked.fetch_add(1, Ordering::Relaxed);
        self.result.lock().clone()
    }

    pub(super) fn looked(&self) -> u32 {
        self.looked.load(Ordering::Relaxed)
    }

    pub(super) fn show(&self, linked: &Linked) {
        let mut result = self.result.lock();
        if *result.1 != *linked {
            *result = (result.0 + 1, Arc::new(linked.clone()));
        }
    }
}

/// A name without surrounding space or control characters, not too long.
fn cut(name: &str) -> String {
    name.trim().chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect()
}

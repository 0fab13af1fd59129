//! The engine and the plug-in's block path neither allocate nor wait for a lock.
//!
//! A binary of its own: it replaces the allocator of the whole program.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::hint::black_box;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use brunt::Role;
use brunt::bridge::Bridge;
use brunt::links::{Entry, Publisher};
use brunt::measure::{Measure, Settings};
use brunt::song::Cue;
use brunt_engine::parts::{PartCell, PartMeter, PartOnset, PartSink};
use brunt_engine::{Config, Hit, Meter, SideRole, Sink, Thresholds};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// The system's allocator, counting the calls of each thread.
struct Counting;

thread_local! {
    // Constant and without destructor: reading it never allocates.
    static CALLS: Cell<u64> = const { Cell::new(0) };
}

fn count() {
    CALLS.with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: every call is passed on to the system's allocator as it came.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller keeps the contract of `alloc`.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count();
        // SAFETY: the pointer came from `System` by the functions here.
        unsafe { System.dealloc(pointer, layout) }
    }

    unsafe fn realloc(&self, pointer: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: the pointer came from `System` by the functions here.
        unsafe { System.realloc(pointer, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Allocator calls of this thread while `work` runs.
fn calls(work: impl FnOnce()) -> u64 {
    let before = CALLS.get();
    work();
    CALLS.get() - before
}

/// Twenty seconds of a beat with a bed, and some samples that are no numbers.
fn beat(rate_hz: f64) -> Vec<f32> {
    let frames = (20.0 * rate_hz) as usize;
    (0..frames)
        .map(|k| {
            let t = (k as f64 / rate_hz) % 0.25;
            let tone = (-t * 20.0).exp() * (std::f64::consts::TAU * 80.0 * t).sin();
            let bed = 0.02 * (((k * 7919) % 1000) as f64 / 500.0 - 1.0);
            if k % 100_003 == 7 { f32::NAN } else { (0.8 * tone + bed) as f32 }
        })
        .collect()
}

const RATES_HZ: [f64; 3] = [8_000.0, 48_000.0, 192_000.0];

#[test]
fn the_counter_sees_an_allocation() {
    let seen = calls(|| drop(black_box(vec![0u8; black_box(100)])));
    assert_eq!(seen, 2, "one to get the memory, one to give it back");
}

/// Cells and onsets of a part, a passage after another: of the whole, and of left and right apart
/// as of two takes.
#[test]
fn a_part_does_not_allocate() {
    #[derive(Default)]
    struct Count {
        cells: u64,
        onsets: u64,
        sides: [u64; 2],
    }
    impl PartSink for Count {
        fn cell(&mut self, _: &PartCell) {
            self.cells += 1;
        }

        fn onset(&mut self, _: &PartOnset) {
            self.onsets += 1;
        }

        fn side_onset(&mut self, side: usize, _: &PartOnset) {
            self.sides[side] += 1;
        }
    }
    for rate_hz in RATES_HZ {
        let signal = beat(rate_hz);
        let config = Config { sample_rate_hz: rate_hz, channels: 2 };
        for sides in [false, true] {
            let meter = if sides { PartMeter::with_sides(config) } else { PartMeter::new(config) };
            let mut meter = meter.expect("builds");
            let mut count = Count::default();
            let late = (0.02 * rate_hz) as usize;
            let seen = calls(|| {
                for _ in 0..2 {
                    meter.listen_to_sides(sides);
                    let (left, right) = (signal[late..].chunks(441), signal.chunks(441));
                    for (left, right) in left.zip(right) {
                        meter.process(&[left, right], &mut count);
                    }
                    meter.finish(&mut count);
                    meter.reset();
                }
            });
            assert_eq!(seen, 0, "{rate_hz} Hz, sides {sides}");
            let Count { cells, onsets, sides: apart } = count;
            assert!(cells > 30_000 && onsets > 20, "{rate_hz} Hz: {onsets} onsets");
            assert_eq!(apart.iter().all(|&onsets| onsets > 20), sides, "{rate_hz} Hz: {apart:?}");
        }
    }
}

/// What a part's instance tells the others, in each role, with takes that are one and two, through
/// loops and stops, until its ring is full; and the same for the partner on its side-chain.
#[test]
fn what_a_part_tells_does_not_allocate() {
    let config = Config { sample_rate_hz: 48_000.0, channels: 2 };
    let signal = beat(48_000.0);
    let late = 960;
    let (left, right) = (&signal[late..], &signal[..signal.len() - late]);
    for role in Role::ALL.into_iter().filter(|role| role.part().is_some()) {
        let mut publisher = Publisher::new(Arc::new(Entry::default()));
        publisher.activate(config).expect("activates");
        publisher.entry().set_role(role);
        let seen = calls(|| {
            for (k, (left, right)) in left.chunks(441).zip(right.chunks(441)).enumerate() {
                // One take in both at first, then two; a loop of seven seconds, and a stop in it.
                let main = if k < 700 { [left, left] } else { [left, right] };
                let cue = Cue {
                    playing: k % 800 < 780,
                    song_frame: Some((k % 760 * 441) as i64),
                    ..Cue::default()
                };
                publisher.process(&main, &cue, true);
                publisher.tell_bars(&cue, left.len());
            }
        });
        assert_eq!(seen, 0, "{role:?}");
        assert!(publisher.entry().dropped() > 0, "{role:?}: it has told more than the ring holds");
    }
}

/// Twenty seconds of noise in bursts that never repeat: nothing of it is like it at another delay.
fn uneven(rate_hz: f64) -> Vec<f32> {
    let mut random = Pcg64::seed_from_u64(7);
    let mut random = move || random.random_range(-1.0_f64..1.0);
    let mut low = 0.0;
    let mut next = 0.0;
    let mut since = 0.0;
    (0..(20.0 * rate_hz) as usize)
        .map(|_| {
            if since >= next {
                since = 0.0;
                next = 0.2 + 0.2 * random().abs();
            }
            since += 1.0 / rate_hz;
            // A first-order low-pass at 3 kHz: the same programme at every rate.
            low += (1.0 - (-std::f64::consts::TAU * 3_000.0 / rate_hz).exp()) * (random() - low);
            let loud = 0.05 + (-since * 20.0).exp();
            (0.5 * loud * low * (rate_hz / 8_000.0).sqrt()) as f32
        })
        .collect()
}

/// Every role, with a side-chain that leads by a fifth of a second, and with one that is behind.
#[test]
fn the_comparison_does_not_allocate() {
    for rate_hz in RATES_HZ {
        let signal = uneven(rate_hz);
        let lag = (0.2 * rate_hz) as usize;
        let mut meter =
            Meter::new(Config { sample_rate_hz: rate_hz, channels: 2 }).expect("builds");
        let mut compared = 0;
        let mut exact = 0;
        for role in [SideRole::Before, SideRole::Reference, SideRole::Partner, SideRole::Off] {
            for (main, side) in [(0, lag), (lag, 0)] {
                let frames = signal.len() / 3 - lag;
                let mut hits = Exact::default();
                let seen = calls(|| {
                    meter.set_side_role(role);
                    for at in (0..frames - 441).step_by(441) {
                        let main = &signal[main + at..main + at + 441];
                        let side = &signal[side + at..side + at + 441];
                        meter.process(&[main, main], Some(&[side, side]), &mut hits);
                    }
                    meter.finish(&mut hits);
                });
                assert_eq!(seen, 0, "{rate_hz} Hz, {role:?}");
                if role == SideRole::Before {
                    compared += hits.all;
                    exact += hits.exact;
                }
                meter.reset();
            }
        }
        assert!(exact > compared / 4 && exact > 0, "{rate_hz} Hz: {exact} of {compared} compared");
    }
}

/// Counts hits, and those that were measured against the side-chain.
#[derive(Default)]
struct Exact {
    all: u32,
    exact: u32,
}

impl Sink for Exact {
    fn hit(&mut self, hit: &Hit) {
        self.all += 1;
        self.exact += u32::from(hit.before_peak_dbtp.is_some());
    }
}

#[test]
fn the_meter_does_not_allocate() {
    for rate_hz in RATES_HZ {
        for channels in [1, 2] {
            let signal = beat(rate_hz);
            let mut meter =
                Meter::new(Config { sample_rate_hz: rate_hz, channels }).expect("builds");
            let seen = calls(|| {
                for (k, block) in signal.chunks(441).enumerate() {
                    let main = [block, block];
                    let side = (k % 3 != 0).then_some(&main[..channels]);
                    meter.process(&main[..channels], side, &mut ());
                    black_box(meter.readings());
                    if k % 1000 == 500 {
                        meter.set_thresholds(Thresholds { watch_db: 0.5, leaking_db: 1.5 });
                        meter.reset();
                    }
                }
                meter.finish(&mut ());
            });
            assert_eq!(seen, 0, "{rate_hz} Hz, {channels} channels");
        }
    }
}

/// Plays twenty seconds through the plug-in's block path with transport, resets and bypass.
fn play(measure: &mut Measure, bridge: &Bridge, signal: &[f32], rate_hz: f64) {
    let mut beat = 0.0;
    for (k, block) in signal.chunks(333).enumerate() {
        let cue = Cue {
            playing: k % 500 > 10,
            // A loop of some seconds.
            song_frame: Some((k % 600 * 333) as i64),
            tempo_bpm: Some(120.0 + (k % 7) as f64),
            beat: Some(beat),
            bar_start_beat: Some((beat / 4.0).floor() * 4.0),
            bar_number: Some((beat / 4.0) as i32),
            bar_counted: false,
            bar_beats: Some(4.0),
        };
        let settings = Settings {
            bypass: k % 700 > 690,
            presses: (k / 900) as u64,
            follow_transport: k % 2000 > 1000,
            thresholds: Thresholds::default(),
            side_role: if k % 3000 > 1500 { SideRole::Before } else { SideRole::Reference },
        };
        let main = [block, block];
        measure.process(&main, Some(&main), &cue, &settings, bridge, None);
        black_box(measure.is_decaying());
        beat += block.len() as f64 / rate_hz * 2.0;
    }
}

#[test]
fn the_block_path_does_not_allocate_even_when_every_queue_is_full() {
    for rate_hz in RATES_HZ {
        let signal = beat(rate_hz);
        let bridge = Bridge::default();
        let mut measure = Measure::default();
        measure
            .activate(Config { sample_rate_hz: rate_hz, channels: 2 }, &bridge)
            .expect("activates");
        // Nobody collects, so the queue of snapshots (1.28 s) is full for most of the time.
        let seen = calls(|| play(&mut measure, &bridge, &signal, rate_hz));
        assert_eq!(seen, 0, "{rate_hz} Hz");
    }
}

/// Whether `work` ends within `limit` on a thread of its own.
fn ends_within(limit: Duration, work: impl FnOnce() + Send) -> bool {
    let done = AtomicBool::new(false);
    let start = Instant::now();
    thread::scope(|scope| {
        let worker = scope.spawn(|| {
            work();
            done.store(true, Ordering::Release);
        });
        while start.elapsed() < limit && !worker.is_finished() {
            thread::sleep(Duration::from_millis(2));
        }
        done.load(Ordering::Acquire)
    })
}

#[test]
fn the_block_path_runs_on_while_the_gui_side_holds_its_lock() {
    let bridge = Bridge::default();
    let mut measure = Measure::default();
    let config = Config { sample_rate_hz: 48_000.0, channels: 2 };
    measure.activate(config, &bridge).expect("activates");
    let signal = beat(48_000.0);
    // The control first: what takes the lock does not come past its holder. The scope can only
    // end once the lock is free, so another thread lets it go after a while.
    let held = AtomicBool::new(false);
    let ended = thread::scope(|scope| {
        scope.spawn(|| {
            let display = bridge.collect();
            held.store(true, Ordering::Release);
            thread::sleep(Duration::from_millis(400));
            drop(display);
        });
        while !held.load(Ordering::Acquire) {
            thread::yield_now();
        }
        ends_within(Duration::from_millis(100), || drop(bridge.collect()))
    });
    assert!(!ended, "the control must wait for the lock");
    let display = bridge.collect();
    let ended = ends_within(Duration::from_secs(60), || {
        play(&mut measure, &bridge, &signal, 48_000.0);
    });
    drop(display);
    assert!(ended, "the block path waits for the GUI side");
}

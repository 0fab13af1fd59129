//! The built plug-in, framework included, neither allocates nor makes a system call in
//! `process()`.
//!
//! Two instruments, each with a control that must show what it is there to show:
//!
//! - This program's own `malloc` family stands before the system's, for every library loaded into
//!   it. A global allocator in Rust would not do: the plug-in is a library with an allocator of
//!   its own, which ends in the same `malloc`.
//! - A system call filter on the audio thread: each call raises a signal that is counted. A lock
//!   that has to wait makes a system call too, so it shows here; one that is free does not.
//!   What the clock costs does not show either: the kernel answers it without a call.
//!
//! A binary of its own for both reasons.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::ffi::{c_int, c_void};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use brunt_host::transport::Tempo;
use brunt_host::{Audio, Block, Instance, Parameter, SavedState, Side};

thread_local! {
    // Constant and without destructor: reading it never allocates.
    static CALLS: Cell<u64> = const { Cell::new(0) };
}

fn count() {
    CALLS.with(|calls| calls.set(calls.get() + 1));
}

unsafe extern "C" {
    // The names under which the GNU C library keeps its own functions reachable for programs
    // that replace the public ones (its manual, "Replacing malloc").
    fn __libc_malloc(size: usize) -> *mut c_void;
    fn __libc_calloc(count: usize, size: usize) -> *mut c_void;
    fn __libc_realloc(pointer: *mut c_void, size: usize) -> *mut c_void;
    fn __libc_free(pointer: *mut c_void);
    fn __libc_memalign(alignment: usize, size: usize) -> *mut c_void;
}

#[unsafe(no_mangle)]
extern "C" fn malloc(size: usize) -> *mut c_void {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_malloc(size) }
}

#[unsafe(no_mangle)]
extern "C" fn calloc(members: usize, size: usize) -> *mut c_void {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_calloc(members, size) }
}

#[unsafe(no_mangle)]
extern "C" fn realloc(pointer: *mut c_void, size: usize) -> *mut c_void {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_realloc(pointer, size) }
}

#[unsafe(no_mangle)]
extern "C" fn free(pointer: *mut c_void) {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_free(pointer) }
}

#[unsafe(no_mangle)]
extern "C" fn aligned_alloc(alignment: usize, size: usize) -> *mut c_void {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_memalign(alignment, size) }
}

#[unsafe(no_mangle)]
extern "C" fn memalign(alignment: usize, size: usize) -> *mut c_void {
    count();
    // SAFETY: passed on as it came.
    unsafe { __libc_memalign(alignment, size) }
}

#[unsafe(no_mangle)]
extern "C" fn posix_memalign(out: *mut *mut c_void, alignment: usize, size: usize) -> c_int {
    count();
    // SAFETY: `out` points to a place for the result, by the function's contract.
    unsafe {
        *out = __libc_memalign(alignment, size);
        if (*out).is_null() { libc::ENOMEM } else { 0 }
    }
}

/// Allocator calls of this thread while `work` runs, from whatever library.
fn calls(work: &mut dyn FnMut()) -> u64 {
    let before = CALLS.get();
    work();
    CALLS.get() - before
}

const FRAMES: usize = 480;
const RATE_HZ: f64 = 48_000.0;

/// What is played: blocks, the side-chain's role (off, before, reference, partner), what is heard
/// (mix, side-chain, difference) and the instance's role (mix, drums, bass, guitars, vocals, other).
/// A part plays in a loop, so that what waits is given out at its end; guitars and voices long enough
/// for it to be told that left and right are two takes.
const STAGES: [(usize, [f64; 3]); 14] = [
    (100, [1.0, 0.0, 0.0]),
    (100, [1.0, 1.0, 0.0]),
    (100, [1.0, 2.0, 0.0]),
    (100, [2.0, 0.0, 0.0]),
    (100, [2.0, 1.0, 0.0]),
    (100, [3.0, 0.0, 0.0]),
    (100, [0.0, 0.0, 1.0]),
    (100, [3.0, 0.0, 1.0]),
    (100, [3.0, 0.0, 2.0]),
    (400, [3.0, 0.0, 3.0]),
    (100, [1.0, 1.0, 3.0]),
    (400, [0.0, 0.0, 4.0]),
    (100, [3.0, 0.0, 4.0]),
    (100, [3.0, 0.0, 5.0]),
];

/// A beat of two takes, one a side, in blocks.
fn blocks() -> Vec<[Vec<f32>; 2]> {
    let count = STAGES.iter().map(|(count, _)| count).sum();
    let sample = |at: usize, late_s: f64, tone_hz: f64, seed: usize| {
        let t = (at as f64 / RATE_HZ + 0.25 - late_s) % 0.25;
        let tone = (-t * 20.0).exp() * (std::f64::consts::TAU * tone_hz * t).sin();
        (0.8 * tone + 0.02 * (((at * seed) % 1000) as f64 / 500.0 - 1.0)) as f32
    };
    (0..count)
        .map(|block| {
            let frames = || block * FRAMES..(block + 1) * FRAMES;
            [
                frames().map(|at| sample(at, 0.0, 80.0, 7_919)).collect(),
                frames().map(|at| sample(at, 0.02, 97.0, 5_003)).collect(),
            ]
        })
        .collect()
}

fn plugin() -> Instance {
    Instance::load().unwrap_or_else(|error| panic!("{error}"))
}

/// The parameters that say what is heard: the side-chain's role, what is listened to, and the
/// instance's own role. The plug-in loads a reference file meanwhile, and has a kept pass.
fn controls(plugin: &mut Instance, folder: &Path) -> [Parameter; 3] {
    let path = folder.join("reference.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 44_100,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("creates");
    for k in 0..44_100 {
        writer.write_sample((k * 7919 % 20_000) as i16 - 10_000).expect("writes");
    }
    writer.finalize().expect("closes");
    let mut json = plugin.save().expect("saves").json().expect("reads");
    let path = serde_json::json!(path.to_string_lossy());
    json["fields"]["reference"] = serde_json::json!(path.to_string());
    // A kept pass of hits at every quarter, to compare with.
    let hits: Vec<_> = (0..64).map(|n| serde_json::json!([f64::from(n), 8.0, 1.0])).collect();
    let kept = serde_json::json!([{
        "number": 1, "time_s": 32.0, "contrast_db": 8.0, "lost_db": 1.0, "integrated_lufs": -12.0,
        "hits": hits, "history": null,
    }]);
    json["fields"]["kept"] = serde_json::json!(kept.to_string());
    plugin.restore(&SavedState::from_json(&json).bytes).expect("loads");
    let kept = plugin.save().expect("saves").json().expect("reads")["fields"]["kept"].to_string();
    assert!(kept.contains("number"), "the kept pass must be there: {kept}");
    ["Side-chain role", "Listen", "Role"].map(|name| plugin.parameter(name).expect("there"))
}

/// Waits until the reference is there: with nothing on the side-chain, what is heard in place of
/// the mix is silence before, and the reference from then on.
fn await_reference(audio: &mut Audio, controls: &[Parameter; 3]) {
    let tempo = Tempo { bpm: 120.0, signature: (4, 4) };
    let (mix, nothing) = ([0.25f32; FRAMES], [0.0f32; FRAMES]);
    let (main, side) = ([&mix[..]; 2], [&nothing[..]; 2]);
    let changes = [controls[0].event(2.0), controls[1].event(1.0)];
    let start = Instant::now();
    for k in 0.. {
        let transport = tempo.at(k as f64 * FRAMES as f64 / RATE_HZ, true);
        let side = Side::Channels(&side);
        let transport = Some(&transport);
        let block = Block { main: &main, side, transport, changes: &changes, ..Block::default() };
        let (_, out) = audio.process(&block).expect("processes");
        let differs = out[0].windows(2).any(|pair| (pair[0] - pair[1]).abs() > 1e-3);
        // The first second goes over from the mix.
        if k > 100 && differs {
            return;
        }
        assert!(start.elapsed() < Duration::from_secs(60), "the reference is never heard");
        thread::sleep(Duration::from_millis(2));
    }
}

/// Plays the blocks and gives what `watch` sees of each call of the plug-in, through all of
/// [`STAGES`].
fn play(
    audio: &mut Audio,
    blocks: &[[Vec<f32>; 2]],
    controls: &[Parameter; 3],
    watch: impl Fn(&mut dyn FnMut()) -> u64,
) -> u64 {
    let tempo = Tempo { bpm: 120.0, signature: (4, 4) };
    let mut seen = 0;
    let mut blocks = blocks.iter();
    let mut first = 0;
    for (count, values) in STAGES {
        // Three quarters of a stage, and its beginning again.
        let round = if values[2] > 0.0 { count * 3 / 4 } else { count };
        for (k, channels) in blocks.by_ref().take(count).enumerate() {
            let place = first + k % round;
            let transport = tempo.at(place as f64 * FRAMES as f64 / RATE_HZ, true);
            // Always connected: a debug build of the framework writes a warning, and so allocates,
            // for a port without channels.
            let main = [&channels[0][..], &channels[1][..]];
            let side = Side::Channels(&main);
            let changes = [0, 1, 2].map(|n| controls[n].event(values[n]));
            let changes = if k == 0 { &changes[..] } else { &[] };
            let transport = Some(&transport);
            let block = Block { main: &main, side, transport, changes, ..Block::default() };
            audio.prepare(&block);
            let mut sound = true;
            seen += watch(&mut || sound = audio.run(&block).is_ok());
            assert!(sound, "processing failed");
        }
        first += count;
    }
    seen
}

#[test]
fn process_does_not_allocate() {
    let mut plugin = plugin();
    let folder = tempfile::tempdir().expect("a folder");
    let controls = controls(&mut plugin, folder.path());
    // The control: what the plug-in allocates is seen, for it allocates when it is activated.
    let mut audio = None;
    let seen = calls(&mut || audio = plugin.activate(RATE_HZ, FRAMES as u32).ok());
    let mut audio = audio.expect("activates");
    assert!(seen > 10, "the plug-in's own allocations must show: {seen} calls");
    await_reference(&mut audio, &controls);
    let seen = play(&mut audio, &blocks(), &controls, calls);
    plugin.deactivate(audio);
    assert_eq!(seen, 0, "allocator calls in all blocks");
}

/// System calls caught on the filtered thread, and the last one's number.
static CAUGHT: AtomicU64 = AtomicU64::new(0);
static LAST: AtomicI64 = AtomicI64::new(-1);
/// What the filtered thread has found: calls in all blocks, calls of the control.
static IN_BLOCKS: AtomicU64 = AtomicU64::new(u64::MAX);
static IN_CONTROL: AtomicU64 = AtomicU64::new(0);
static DONE: AtomicBool = AtomicBool::new(false);

/// Counts a caught call. Only atomics: anything else could make a call of its own.
extern "C" fn caught(_signal: c_int, _info: *mut libc::siginfo_t, context: *mut c_void) {
    CAUGHT.fetch_add(1, Ordering::SeqCst);
    // SAFETY: the kernel hands over the interrupted thread's context with this signal.
    let context = unsafe { &*context.cast::<libc::ucontext_t>() };
    #[cfg(target_arch = "x86_64")]
    LAST.store(context.uc_mcontext.gregs[libc::REG_RAX as usize], Ordering::SeqCst);
    #[cfg(target_arch = "aarch64")]
    LAST.store(context.uc_mcontext.regs[8] as i64, Ordering::SeqCst);
}

/// From here on every system call of this thread is caught, but for the return from the signal's
/// handler and the thread's own end. There is no way back.
fn catch_system_calls() {
    // SAFETY: the handler only touches atomics and the context that it is given.
    unsafe {
        let mut action: libc::sigaction = std::mem::zeroed();
        action.sa_sigaction = caught as *const () as usize;
        action.sa_flags = libc::SA_SIGINFO | libc::SA_NODEFER;
        assert_eq!(libc::sigaction(libc::SIGSYS, &action, std::ptr::null_mut()), 0);
    }
    let allowed = [libc::SYS_rt_sigreturn, libc::SYS_exit];
    let arch = std::env::consts::ARCH.try_into().expect("a known processor");
    let filter = seccompiler::SeccompFilter::new(
        BTreeMap::from(allowed.map(|call| (call, Vec::new()))),
        seccompiler::SeccompAction::Trap,
        seccompiler::SeccompAction::Allow,
        arch,
    )
    .expect("a sound filter");
    let program: seccompiler::BpfProgram = filter.try_into().expect("a sound filter");
    seccompiler::apply_filter(&program).expect("the kernel takes system call filters");
}

fn caught_while(work: &mut dyn FnMut()) -> u64 {
    let before = CAUGHT.load(Ordering::SeqCst);
    work();
    CAUGHT.load(Ordering::SeqCst) - before
}

#[test]
fn process_makes_no_system_call() {
    let mut plugin = plugin();
    let folder = tempfile::tempdir().expect("a folder");
    let controls = controls(&mut plugin, folder.path());
    let mut audio = plugin.activate(RATE_HZ, FRAMES as u32).expect("activates");
    await_reference(&mut audio, &controls);
    let blocks = blocks();
    thread::spawn(move || {
        // One block outside the filter, so that the host's own memory is there.
        play(&mut audio, &blocks[..3], &controls, calls);
        catch_system_calls();
        IN_BLOCKS.store(play(&mut audio, &blocks, &controls, caught_while), Ordering::SeqCst);
        let before = LAST.load(Ordering::SeqCst);
        // The control: a call that any program may make must be caught.
        // SAFETY: asks for a number and has no other effect.
        let control = caught_while(&mut || unsafe {
            libc::syscall(libc::SYS_getppid);
        });
        IN_CONTROL.store(control, Ordering::SeqCst);
        if IN_BLOCKS.load(Ordering::SeqCst) > 0 {
            LAST.store(before, Ordering::SeqCst);
        }
        DONE.store(true, Ordering::SeqCst);
        // A thread that may make no call cannot tidy up after itself. It ends here; what it owns
        // stays until the program ends.
        std::mem::forget((audio, blocks, controls));
        // SAFETY: ends this thread alone; nothing of it is used afterwards.
        unsafe { libc::syscall(libc::SYS_exit, 0) };
    });
    let start = Instant::now();
    while !DONE.load(Ordering::SeqCst) {
        assert!(start.elapsed() < Duration::from_secs(120), "the filtered thread hangs");
        thread::sleep(Duration::from_millis(5));
    }
    std::mem::forget(plugin);
    assert_eq!(IN_CONTROL.load(Ordering::SeqCst), 1, "the control must be caught");
    let (seen, last) = (IN_BLOCKS.load(Ordering::SeqCst), LAST.load(Ordering::SeqCst));
    assert_eq!(seen, 0, "system calls in all blocks; the last is number {last}");
}

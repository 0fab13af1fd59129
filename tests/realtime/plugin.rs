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

/// Ten seconds of a beat, in blocks.
fn blocks() -> Vec<Vec<f32>> {
    (0..1000)
        .map(|block| {
            (0..FRAMES)
                .map(|k| {
                    let t = ((block * FRAMES + k) as f64 / RATE_HZ) % 0.25;
                    let tone = (-t * 20.0).exp() * (std::f64::consts::TAU * 80.0 * t).sin();
                    (0.8 * tone + 0.02 * (((k * 7919) % 1000) as f64 / 500.0 - 1.0)) as f32
                })
                .collect()
        })
        .collect()
}

fn plugin() -> Instance {
    Instance::load().unwrap_or_else(|error| panic!("{error}"))
}

/// The parameters that say what is heard: the side-chain's role, and what is listened to. The
/// plug-in loads a reference file meanwhile.
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
    plugin.restore(&SavedState::from_json(&json).bytes).expect("loads");
    ["Side-chain role", "Listen", "Role"].map(|name| plugin.parameter(name).expect("there"))
}

/// Time for the reference to be read at the host's rate.
fn reading_time() {
    thread::sleep(Duration::from_millis(800));
}

/// Plays the blocks and gives what `watch` sees of each call of the plug-in. The mix, the
/// side-chain and the difference are heard in turn. In the last 300 blocks it measures a part, in a
/// loop of a second: the drums, with their hits, and the bass.
fn play(
    audio: &mut Audio,
    blocks: &[Vec<f32>],
    controls: &[Parameter; 3],
    watch: impl Fn(&mut dyn FnMut()) -> u64,
) -> u64 {
    let tempo = Tempo { bpm: 120.0, signature: (4, 4) };
    let mut seen = 0;
    for (k, channel) in blocks.iter().enumerate() {
        // Always connected: a debug build of the framework writes a warning, and so allocates,
        // for a port without channels.
        let part = k >= 700;
        let place = if part { 700 + k % 100 } else { k };
        let transport = tempo.at(place as f64 * FRAMES as f64 / RATE_HZ, true);
        let main = [&channel[..], &channel[..]];
        let side = Side::Channels(&main);
        // Before and reference in turn, and of each the mix, the side-chain, the difference.
        let [side_role, listen, role] = controls;
        let turn = k / 100;
        let changes = [
            side_role.event(1.0 + (turn / 3 % 2) as f64),
            listen.event((turn % 3) as f64),
            // The mix, the drums, the bass.
            role.event(f64::from(u8::from(part) + u8::from(k >= 900))),
        ];
        let changes = if k % 100 == 0 { &changes[..] } else { &[] };
        let transport = Some(&transport);
        let block = Block { main: &main, side, transport, changes, ..Block::default() };
        audio.prepare(&block);
        let mut sound = true;
        seen += watch(&mut || sound = audio.run(&block).is_ok());
        assert!(sound, "processing failed");
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
    reading_time();
    audio.start().expect("starts");
    let seen = play(&mut audio, &blocks(), &controls, calls);
    plugin.deactivate(audio);
    assert_eq!(seen, 0, "allocator calls in 1000 blocks");
}

/// System calls caught on the filtered thread, and the last one's number.
static CAUGHT: AtomicU64 = AtomicU64::new(0);
static LAST: AtomicI64 = AtomicI64::new(-1);
/// What the filtered thread has found: calls in 1000 blocks, calls of the control.
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
    reading_time();
    audio.start().expect("starts");
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
    assert_eq!(seen, 0, "system calls in 1000 blocks; the last is number {last}");
}

//! What is left behind: by a scan, and by instances that come and go. Linux, which lists a program's
//! threads, files and memory.

use std::collections::BTreeMap;
use std::env;
use std::fs;
use std::process::{Command, Output};
use std::time::Duration;

use brunt_host::display::with_display;
use brunt_host::render::play;
use brunt_host::window::Window;
use brunt_host::{Blocks, Instance, Song, bundle};
use clack_host::entry::PluginEntry;

use crate::material::beat;

/// Names, to the program that a test starts, what it is to do there.
const PART: &str = "BRUNT_HYGIENE_PART";

/// Runs the ignored test of that name in a program of its own: the others of this program would be
/// counted with it.
fn alone(test: &str, part: &str) -> Output {
    let folder = tempfile::tempdir().expect("a folder");
    let output = Command::new(env::current_exe().expect("this program"))
        .args([test, "--exact", "--ignored", "--nocapture", "--test-threads", "1"])
        .env(PART, part)
        // A log is a file that is asked for.
        .env_remove("NICE_LOG")
        .env("HOME", folder.path())
        .env("BRUNT_BUNDLE", bundle::find().unwrap_or_else(|error| panic!("{error}")))
        .current_dir(folder.path())
        .output()
        .expect("the test program starts");
    let left: Vec<_> = fs::read_dir(folder.path()).expect("a folder").flatten().collect();
    assert!(left.is_empty(), "{test} leaves {left:?} in the user's folder");
    output
}

/// The program that a scan is made in must not open a file to write, nor make, name, move or remove
/// one: the kernel ends it where it tries.
fn forbid_writing() {
    use seccompiler::{
        BpfProgram, SeccompAction, SeccompCmpArgLen, SeccompCmpOp, SeccompCondition, SeccompFilter,
        SeccompRule,
    };
    let flags = |index: u8, mask: i32| {
        let mask = mask as u64;
        let condition = SeccompCondition::new(
            index,
            SeccompCmpArgLen::Dword,
            SeccompCmpOp::MaskedEq(mask),
            mask,
        );
        SeccompRule::new(vec![condition.expect("a sound condition")]).expect("a sound rule")
    };
    let writing = |index| [libc::O_WRONLY, libc::O_RDWR, libc::O_CREAT].map(|f| flags(index, f));
    let mut rules: BTreeMap<i64, Vec<SeccompRule>> =
        BTreeMap::from([(libc::SYS_openat, writing(2).to_vec())]);
    #[cfg(target_arch = "x86_64")]
    {
        rules.insert(libc::SYS_open, writing(1).to_vec());
        for call in [
            libc::SYS_creat,
            libc::SYS_mkdir,
            libc::SYS_rename,
            libc::SYS_unlink,
            libc::SYS_link,
            libc::SYS_symlink,
        ] {
            rules.insert(call, Vec::new());
        }
    }
    for call in [
        libc::SYS_mkdirat,
        libc::SYS_mknodat,
        libc::SYS_renameat2,
        libc::SYS_unlinkat,
        libc::SYS_linkat,
        libc::SYS_symlinkat,
        libc::SYS_truncate,
        libc::SYS_ftruncate,
    ] {
        rules.insert(call, Vec::new());
    }
    let arch = env::consts::ARCH.try_into().expect("an architecture that has filters");
    let filter = SeccompFilter::new(rules, SeccompAction::Allow, SeccompAction::KillProcess, arch);
    let program: BpfProgram = filter.expect("sound").try_into().expect("sound");
    seccompiler::apply_filter(&program).expect("the kernel takes system call filters");
}

/// The child of the test below.
#[test]
#[ignore = "run by the test below, as a program of its own"]
fn scans_without_writing() {
    let part = env::var(PART).expect("run by the test below");
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    forbid_writing();
    if part == "control" {
        let _ = fs::write("planted", "x");
    }
    // SAFETY: the library is our own build, and its initialisation has no precondition.
    let entry = unsafe { PluginEntry::load(&path) }.expect("loads");
    let factory = entry.get_plugin_factory().expect("a factory");
    assert!(factory.plugin_descriptors().next().expect("a plug-in").id().is_some());
    // Hosts that scan thoroughly make an instance and ask it for its ports.
    let mut instance = Instance::load_from(&path).expect("an instance");
    assert!(!instance.ports(true).is_empty());
    println!("scanned");
}

#[test]
fn a_scan_writes_no_file() {
    let test = "hygiene::scans_without_writing";
    let output = alone(test, "scan");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success() && said.contains("scanned"), "{output:?}");
    // And one that does write is noticed.
    let control = alone(test, "control");
    assert!(!control.status.success(), "{control:?}");
    assert!(!String::from_utf8_lossy(&control.stdout).contains("scanned"));
}

/// What this program holds.
#[derive(Clone, Copy, Debug)]
struct Held {
    threads: usize,
    files: usize,
    /// Memory that is in use, bytes.
    bytes: u64,
}

fn held() -> Held {
    let count = |path: &str| fs::read_dir(path).expect("the system's list").count();
    let pages = fs::read_to_string("/proc/self/statm").expect("the system's list");
    let pages: u64 = pages.split(' ').nth(1).and_then(|n| n.parse().ok()).expect("a number");
    Held { threads: count("/proc/self/task"), files: count("/proc/self/fd"), bytes: pages * 4096 }
}

/// Threads that are ending are listed for a moment longer.
fn settled() -> Held {
    let mut last = held();
    for _ in 0..50 {
        std::thread::sleep(Duration::from_millis(20));
        let now = held();
        if now.threads >= last.threads {
            break;
        }
        last = now;
    }
    held()
}

/// Instances opened and closed in turn; the first ones fill caches and are not counted.
const TURNS: usize = 64;
const WARM: usize = 16;
/// Growth of memory that is let pass for the turns that count, bytes. One instance holds some 20 MB:
/// a hundredth of that, left in each turn, would show. Ours.
const SLACK: u64 = 8 << 20;

fn one_turn(main: &[Vec<f32>]) {
    let mut plugin = Instance::load().unwrap_or_else(|error| panic!("{error}"));
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    play(&mut audio, &Song { main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    let state = plugin.save().expect("saves");
    plugin.restore(&state.bytes).expect("restores");
    plugin.deactivate(audio);
    if env::var(PART).is_ok_and(|part| part == "control") {
        // Two hundred kilobytes and a file that nobody gives back.
        std::mem::forget(vec![1u8; 200 << 10]);
        std::mem::forget(fs::File::open("/proc/self/statm").expect("a file"));
    }
}

/// The child of the test below.
#[test]
#[ignore = "run by the test below, as a program of its own"]
fn comes_and_goes() {
    let main = beat(48_000.0, 1.0, 2);
    let mut after_warm = None;
    for turn in 0..TURNS {
        one_turn(&main);
        if turn + 1 == WARM {
            after_warm = Some(settled());
        }
    }
    let (before, after) = (after_warm.expect("more turns than warm ones"), settled());
    println!("{before:?}, {after:?}");
    assert!(after.threads <= before.threads, "threads: {before:?}, {after:?}");
    assert!(after.files <= before.files, "files: {before:?}, {after:?}");
    assert!(after.bytes <= before.bytes + SLACK, "memory: {before:?}, {after:?}");
}

#[test]
fn sixty_four_instances_in_turn_leave_nothing() {
    let test = "hygiene::comes_and_goes";
    let output = alone(test, "turns");
    assert!(output.status.success(), "{output:?}");
    let control = alone(test, "control");
    assert!(!control.status.success(), "{control:?}");
}

/// The child of the test below: windows opened and closed, one instance a window.
#[test]
#[ignore = "run by the test below, as a program of its own"]
fn windows_come_and_go() {
    let open = || {
        let mut plugin = Instance::load().unwrap_or_else(|error| panic!("{error}"));
        let mut window = Window::open(&mut plugin, None).expect("opens");
        window.run(&mut plugin, Duration::from_millis(150)).expect("runs");
        window.close(&mut plugin).expect("closes");
    };
    // OpenGL keeps threads and files of its own from its first windows on.
    for _ in 0..4 {
        open();
    }
    let before = settled();
    for _ in 0..12 {
        open();
    }
    let after = settled();
    println!("{before:?}, {after:?}");
    assert!(after.threads <= before.threads, "threads: {before:?}, {after:?}");
    assert!(after.files <= before.files, "files: {before:?}, {after:?}");
}

#[test]
fn windows_in_turn_leave_no_thread_and_no_file() {
    with_display("hygiene::windows_in_turn_leave_no_thread_and_no_file", || {
        let output = alone("hygiene::windows_come_and_go", "windows");
        assert!(output.status.success(), "{output:?}");
    });
}

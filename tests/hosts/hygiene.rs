//! What is left behind: by a scan, and by instances that come and go. Linux, which lists a program's
//! threads, files and memory.

mod scan;

use std::env;
use std::fs;
use std::process::{Command, Output};
use std::time::Duration;

use brunt_host::display::with_display;
use brunt_host::held::Held;
use brunt_host::turn::{TURNS, WARM, keep_something, turn};
use brunt_host::window::Window;
use brunt_host::{Instance, bundle};

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

/// Growth of memory that is let pass for the turns that count, bytes. One instance holds some 20 MB:
/// a hundredth of that, left in each turn, would show. Ours.
const SLACK: u64 = 8 << 20;

fn settled() -> Held {
    Held::settled().unwrap_or_else(|error| panic!("{error}"))
}

fn one_turn(main: &[Vec<f32>]) {
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    turn(&path, main).expect("loads, plays, saves");
    if env::var(PART).is_ok_and(|part| part == "control") {
        keep_something().expect("keeps");
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
    println!("{WARM} instances: {before}; {TURNS}: {after}");
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

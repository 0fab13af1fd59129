//! Calls in orders that hosts really use, and in some that none should.

use brunt_host::render::play;
use brunt_host::{Block, Blocks, Instance, Song};

use crate::material::{beat, instance};

/// Seconds measured so far, as the saved state tells.
fn measured_s(plugin: &mut Instance) -> f64 {
    let report = plugin.save().expect("saves").report().expect("reads");
    report.map_or(0.0, |report| report.mix.duration_s)
}

#[test]
fn a_change_of_block_size_keeps_the_pass() {
    let main = beat(48_000.0, 1.0, 2);
    let song = Song { main: &main, ..Song::default() };
    let mut plugin = instance();
    for (max, total) in [(512, 1.0), (64, 2.0), (2048, 3.0)] {
        let mut audio = plugin.activate(48_000.0, max).expect("activates");
        play(&mut audio, &song, &Blocks::Even(max as usize)).expect("plays");
        plugin.deactivate(audio);
        assert!((measured_s(&mut plugin) - total).abs() < 0.011);
    }
}

#[test]
fn a_change_of_rate_starts_anew() {
    let mut plugin = instance();
    for rate_hz in [48_000.0, 96_000.0] {
        let main = beat(rate_hz, 1.0, 2);
        let mut audio = plugin.activate(rate_hz, 512).expect("activates");
        let song = Song { main: &main, ..Song::default() };
        play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
        plugin.deactivate(audio);
        assert!((measured_s(&mut plugin) - 1.0).abs() < 0.011, "{rate_hz} Hz");
    }
}

#[test]
fn stop_start_and_reset_at_any_time_keep_the_pass() {
    let main = beat(48_000.0, 0.5, 2);
    let song = Song { main: &main, ..Song::default() };
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    audio.reset();
    for _ in 0..4 {
        play(&mut audio, &song, &Blocks::Even(480)).expect("plays");
        audio.reset();
        audio.stop();
        audio.reset();
        audio.start().expect("starts");
        audio.start().expect("a second start is harmless");
    }
    plugin.deactivate(audio);
    assert!((measured_s(&mut plugin) - 2.0).abs() < 0.011);
}

#[test]
fn state_before_activation_and_while_active() {
    let mut plugin = instance();
    let fresh = plugin.save().expect("saves before anything");
    plugin.restore(&fresh.bytes).expect("loads before activation");
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    plugin.restore(&fresh.bytes).expect("loads while active");
    let main = beat(48_000.0, 0.5, 2);
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    plugin.restore(&fresh.bytes).expect("loads while processing");
    assert!((measured_s(&mut plugin) - 0.5).abs() < 0.011, "loading does not end a running pass");
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    plugin.deactivate(audio);
    assert!((measured_s(&mut plugin) - 1.0).abs() < 0.011);
}

/// Found by these tests: a library that was unloaded left a destructor with each thread that had
/// used it, and the thread's end crashed the host.
#[test]
fn a_thread_that_scanned_the_plugin_may_end() {
    for _ in 0..20 {
        let scans = [(); 4].map(|()| {
            std::thread::spawn(|| {
                let mut plugin = instance();
                plugin.parameters();
            })
        });
        for scan in scans {
            scan.join().expect("ends");
        }
    }
}

#[test]
fn an_active_plugin_may_be_dropped() {
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    audio.start().expect("starts");
    drop(audio);
    drop(plugin);
}

#[test]
fn activation_without_a_block_and_many_times() {
    let mut plugin = instance();
    for max in [1, 16, 4096, 65_536] {
        let audio = plugin.activate(48_000.0, max).expect("activates");
        plugin.deactivate(audio);
    }
    assert!(plugin.save().expect("saves").report().expect("reads").is_none());
}

#[test]
fn blocks_of_no_frames_are_harmless() {
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    let block = Block { main: &[&[], &[]], ..Block::default() };
    for _ in 0..3 {
        audio.process(&block).expect("processes");
    }
    plugin.deactivate(audio);
}

#[test]
fn instances_do_not_know_each_other() {
    let (mut one, mut other) = (instance(), instance());
    let main = beat(48_000.0, 1.0, 2);
    let mut audio = one.activate(48_000.0, 512).expect("activates");
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    one.deactivate(audio);
    assert!(measured_s(&mut one) > 0.9);
    assert!(other.save().expect("saves").report().expect("reads").is_none());
}

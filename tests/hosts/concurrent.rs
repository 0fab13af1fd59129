//! The main thread saves and loads while the audio thread runs.

use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use brunt_host::render::play;
use brunt_host::{Blocks, Song};

use crate::material::{beat, first_difference, instance};

#[test]
fn saving_and_loading_while_audio_runs() {
    let main = beat(48_000.0, 20.0, 2);
    let mut plugin = instance();
    let fresh = plugin.save().expect("saves");
    let mut audio = plugin.activate(48_000.0, 256).expect("activates");
    let done = AtomicBool::new(false);
    let audio = thread::scope(|scope| {
        let player = scope.spawn(|| {
            let song = Song { main: &main, ..Song::default() };
            let output = play(&mut audio, &song, &Blocks::Random { max: 256, seed: 9 });
            done.store(true, Ordering::Release);
            let output = output.expect("plays");
            assert_eq!(first_difference(&main, &output), None);
            audio
        });
        let (mut saves, mut seconds) = (0, 0.0);
        while !done.load(Ordering::Acquire) {
            let report = plugin.save().expect("saves").report().expect("a whole report");
            let now = report.map_or(0.0, |report| report.mix.duration_s);
            assert!(now >= seconds, "measured time went back from {seconds} to {now} s");
            seconds = now;
            plugin.restore(&fresh.bytes).expect("loads");
            plugin.pump();
            saves += 1;
        }
        assert!(saves > 2, "only {saves} saves");
        player.join().expect("the player ends")
    });
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
    assert_eq!(report.mix.duration_s, 20.0);
}

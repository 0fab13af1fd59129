//! The editor in a host's window: opened, closed, opened again, resized; and its picture.

use std::time::{Duration, Instant};

use brunt_tests::host::display::with_display;
use brunt_tests::host::render::play;
use brunt_tests::host::window::{Picture, Window};
use brunt_tests::host::{Blocks, Instance, Song};

use crate::material::{beat, instance};

/// Longest wait for the first frame. Software drawing on a busy machine needs seconds for it.
const PATIENCE: Duration = Duration::from_secs(30);
/// Time for what was measured to reach the screen: some frames of 30 ms under a virtual display.
const A_WHILE: Duration = Duration::from_millis(700);

fn look(plugin: &mut Instance, window: &mut Window) -> Picture {
    let start = Instant::now();
    window.run(plugin, A_WHILE).expect("runs");
    let mut picture = window.picture().expect("has pixels");
    while picture.unpainted_share() > 0.001 && start.elapsed() < PATIENCE {
        window.run(plugin, A_WHILE).expect("runs");
        picture = window.picture().expect("has pixels");
    }
    assert!(picture.unpainted_share() < 0.001, "{:.3} unpainted", picture.unpainted_share());
    assert!(picture.commonest_share() < 0.98, "{:.3} of one colour", picture.commonest_share());
    assert!(picture.colours() > 20, "only {} colours", picture.colours());
    picture
}

#[test]
fn opens_closes_and_opens_again_with_the_same_pass() {
    with_display("editor::opens_closes_and_opens_again_with_the_same_pass", || {
        let mut plugin = instance();
        let mut window = Window::open(&mut plugin, None).expect("opens");
        let empty = look(&mut plugin, &mut window);
        let main = beat(48_000.0, 10.0, 2);
        let mut audio = plugin.activate(48_000.0, 512).expect("activates");
        let song = Song { main: &main, ..Song::default() };
        play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
        let first = look(&mut plugin, &mut window);
        assert_ne!(first, empty, "a measured pass changes the picture");
        window.close(&mut plugin).expect("closes");
        // What is played while the editor is closed shows when it opens again.
        play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
        let mut window = Window::open(&mut plugin, None).expect("opens again");
        let second = look(&mut plugin, &mut window);
        assert_eq!((second.width, second.height), (first.width, first.height));
        window.close(&mut plugin).expect("closes");
        plugin.deactivate(audio);
        let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
        assert_eq!(report.mix.duration_s, 20.0, "the editor took nothing away");
        assert_eq!(report.punch.hits as usize, report.hits.len(), "no hit was lost");
    });
}

#[test]
fn takes_a_size_from_the_host() {
    with_display("editor::takes_a_size_from_the_host", || {
        let mut plugin = instance();
        let mut window = Window::open(&mut plugin, None).expect("opens");
        look(&mut plugin, &mut window);
        let size = window.resize(&mut plugin, (1400, 900)).expect("takes a size");
        assert_eq!(size, (1400, 900));
        let picture = look(&mut plugin, &mut window);
        assert_eq!((picture.width, picture.height), size);
        window.close(&mut plugin).expect("closes");
    });
}

#[test]
fn may_be_left_open_when_the_plugin_goes() {
    with_display("editor::may_be_left_open_when_the_plugin_goes", || {
        let mut plugin = instance();
        let mut window = Window::open(&mut plugin, None).expect("opens");
        window.run(&mut plugin, Duration::from_millis(200)).expect("runs");
        window.close(&mut plugin).expect("closes");
        drop(plugin);
    });
}

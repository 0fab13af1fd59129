//! The editor in a host's window: opened, closed, opened again, resized; and its picture.

use std::time::{Duration, Instant};

use brunt_host::display::with_display;
use brunt_host::render::play;
use brunt_host::window::{Picture, Window};
use brunt_host::{Audio, Block, Blocks, Instance, Parameter, Song};

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

/// Plays ten seconds in two halves, with a look at the window, if any, while the pass is under way;
/// gives the report of the pass.
fn report(plugin: &mut Instance, mut window: Option<&mut Window>) -> serde_json::Value {
    let main = beat(48_000.0, 10.0, 2);
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    for half in [0..5 * 48_000, 5 * 48_000..10 * 48_000] {
        let part: Vec<Vec<f32>> =
            main.iter().map(|channel| channel[half.clone()].to_vec()).collect();
        let song = Song { main: &part, ..Song::default() };
        play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
        if let Some(window) = &mut window {
            look(plugin, window);
        }
    }
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
    serde_json::to_value(report).expect("writes")
}

#[test]
fn the_readings_are_the_same_with_the_window_open() {
    with_display("editor::the_readings_are_the_same_with_the_window_open", || {
        let closed = report(&mut instance(), None);
        let mut plugin = instance();
        let mut window = Window::open(&mut plugin, None).expect("opens");
        let open = report(&mut plugin, Some(&mut window));
        window.close(&mut plugin).expect("closes");
        assert!(closed["hits"].as_array().is_some_and(|hits| hits.len() > 10), "{closed}");
        assert_eq!(open, closed);
    });
}

/// Times of the blocks of a pass, s, from a reset on. Twenty seconds of programme are played in a
/// second and a half or so: the window draws a hundred times meanwhile.
fn times(
    audio: &mut Audio,
    reset: &Parameter,
    main: &[Vec<f32>],
    mut between: impl FnMut(),
) -> Vec<f64> {
    const FRAMES: usize = 64;
    (0..main[0].len() / FRAMES)
        .map(|k| {
            let part: Vec<&[f32]> =
                main.iter().map(|channel| &channel[k * FRAMES..(k + 1) * FRAMES]).collect();
            let changes = match k {
                0 => vec![reset.event(1.0)],
                1 => vec![reset.event(0.0)],
                _ => Vec::new(),
            };
            let block = Block { main: &part, changes: &changes, ..Block::default() };
            audio.prepare(&block);
            let started = Instant::now();
            audio.run(&block).expect("processes");
            let taken = started.elapsed().as_secs_f64();
            if k % 750 == 749 {
                between();
            }
            taken
        })
        .collect()
}

/// Prints what a block costs with the window closed and open. Run with
/// `cargo test -p brunt-tests --test hosts cost_of_a_block -- --ignored --nocapture` after
/// `cargo xtask bundle --release`, whose plug-in it loads. Each block's quickest of nine passes
/// counts: drawing and the display's server run on the same processors, and what they take is not
/// the audio thread's.
#[test]
#[ignore = "a time, not a check of right and wrong; see the comment"]
fn cost_of_a_block_with_the_window_open() {
    with_display("editor::cost_of_a_block_with_the_window_open", || {
        const PASSES: usize = 9;
        let mut plugin = instance();
        let reset = plugin.parameter("Reset").expect("a parameter");
        let mut audio = plugin.activate(48_000.0, 64).expect("activates");
        let main = beat(48_000.0, 20.0, 2);
        let mut best = [f64::INFINITY; 2].map(|most| vec![most; main[0].len() / 64]);
        for pass in 0..2 * PASSES {
            let open = pass % 2 == 1;
            let mut window = open.then(|| {
                let mut window = Window::open(&mut plugin, None).expect("opens");
                look(&mut plugin, &mut window);
                window
            });
            let taken = times(&mut audio, &reset, &main, || match &mut window {
                Some(window) => {
                    window.run(&mut plugin, Duration::from_millis(60)).expect("runs");
                }
                None => {
                    std::thread::sleep(Duration::from_millis(60));
                }
            });
            for (best, taken) in best[usize::from(open)].iter_mut().zip(taken) {
                *best = best.min(taken);
            }
            if let Some(window) = window {
                window.close(&mut plugin).expect("closes");
            }
        }
        plugin.deactivate(audio);
        let [closed, open] = best.map(|best| best.iter().sum::<f64>() / best.len() as f64 * 1e6);
        println!(
            "a block of 64 frames: closed {closed:.3} us, open {open:.3} us, {:+.1} %",
            100.0 * (open / closed - 1.0)
        );
    });
}

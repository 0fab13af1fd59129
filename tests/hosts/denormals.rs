//! Signals that fade into denormal numbers.

use std::time::{Duration, Instant};

use brunt_host::render::play;
use brunt_host::{Blocks, Song};

use crate::material::{first_difference, instance};

fn run(main: &[Vec<f32>]) -> Duration {
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    let start = Instant::now();
    let song = Song { main, ..Song::default() };
    let output = play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
    let time = start.elapsed();
    assert_eq!(first_difference(main, &output), None, "denormals pass untouched");
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
    assert_eq!(report.input.nan_samples + report.input.inf_samples, 0);
    time
}

#[test]
fn pass_untouched_and_cost_no_stall() {
    let frames = 480_000;
    let noise = |k: usize| ((k * 7919) % 1000) as f32 / 1000.0 - 0.5;
    let loud: Vec<_> = (0..frames).map(noise).collect();
    // A burst, then a tail that sinks through the denormal range and stays there.
    let fading: Vec<_> = (0..frames)
        .map(|k| if k < 4800 { noise(k) } else { noise(k) * 1e-36 * 0.9999f32.powi(k as i32) })
        .collect();
    let usual = run(&[loud.clone(), loud]);
    let slow = run(&[fading.clone(), fading]);
    let ratio = slow.as_secs_f64() / usual.as_secs_f64();
    println!("denormals: {ratio:.2} times the time of noise ({slow:?} for 10 s)");
    // Real time with room to spare; a stall costs a hundred times as much as noise.
    assert!(slow < Duration::from_secs(5), "10 s of denormals took {slow:?}");
}

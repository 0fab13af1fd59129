//! Every layout at every rate; and the rates at which nothing is measured.

use brunt_host::render::play;
use brunt_host::{Blocks, Song};

use crate::material::{beat, first_difference, instance};

/// From the lowest to the highest rate that hosts and converters have.
const RATES_HZ: [f64; 10] = [
    8_000.0, 11_025.0, 22_050.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0,
    384_000.0,
];

#[test]
fn each_layout_measures_and_passes_audio_at_each_rate() {
    for rate_hz in RATES_HZ {
        let stereo = beat(rate_hz, 1.0, 2);
        let mut plugin = instance();
        for layout in plugin.layouts() {
            plugin.choose(&layout).expect("the layout is taken");
            let channels = layout.channels.0 as usize;
            let side = if layout.ports.0 == 2 { &stereo[..channels] } else { &[] };
            let mut audio = plugin.activate(rate_hz, 1024).expect("activates");
            let song = Song { main: &stereo[..channels], side, ..Song::default() };
            let output =
                play(&mut audio, &song, &Blocks::Random { max: 1024, seed: 3 }).expect("plays");
            assert_eq!(first_difference(song.main, &output), None, "{} Hz", rate_hz);
            plugin.deactivate(audio);
            let saved = plugin.save().expect("saves");
            let report = saved.report().expect("reads").expect("measured");
            assert_eq!(report.mix.sample_rate_hz, rate_hz, "{}", layout.name);
            assert_eq!(report.mix.channels, channels, "{}", layout.name);
            let peak = report.loudness.sample_peak_dbfs.expect("has a peak");
            let top = song.main.iter().flatten().fold(0.0f32, |top, x| top.max(x.abs()));
            let expected = 20.0 * f64::from(top).log10();
            assert!((peak - expected).abs() < 0.01, "{} Hz: {peak} dBFS", rate_hz);
        }
    }
}

#[test]
fn audio_passes_at_a_rate_that_cannot_be_measured_and_the_next_rate_works() {
    let main = beat(48_000.0, 1.0, 2);
    let song = Song { main: &main, ..Song::default() };
    let mut plugin = instance();
    let mut measured = false;
    for rate_hz in [1.0, 4_000.0, 7_999.0, 400_000.0, 768_000.0, 1e9, 44_100.0, 1e9, 44_100.0] {
        let mut audio = plugin.activate(rate_hz, 512).expect("activates");
        let output = play(&mut audio, &song, &Blocks::Even(512)).expect("plays");
        assert_eq!(first_difference(&main, &output), None, "{rate_hz} Hz");
        plugin.deactivate(audio);
        let report = plugin.save().expect("saves").report().expect("reads");
        // What was measured before stays until something is measured again.
        measured |= rate_hz == 44_100.0;
        let rate_hz = report.map(|report| report.mix.sample_rate_hz);
        assert_eq!(rate_hz, measured.then_some(44_100.0));
    }
}

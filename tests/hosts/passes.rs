//! What belongs to a pass: bypass, resets, the transport, bar lines, status and tail.

use brunt_host::render::play;
use brunt_host::transport::Tempo;
use brunt_host::{Audio, Block, Blocks, Instance, Parameter, Side, Song, Status};

use crate::material::{beat, instance};

const RATE_HZ: f64 = 48_000.0;

fn measured_s(plugin: &mut Instance) -> f64 {
    let report = plugin.save().expect("saves").report().expect("reads");
    report.map_or(0.0, |report| report.mix.duration_s)
}

/// Half a second of the beat in one block, with a parameter set at its start.
fn half_second(
    audio: &mut Audio,
    change: Option<(&Parameter, f64)>,
    playing: Option<bool>,
) -> Status {
    let main = beat(RATE_HZ, 0.5, 2);
    let main: Vec<&[f32]> = main.iter().map(Vec::as_slice).collect();
    let changes: Vec<_> = change.into_iter().map(|(p, value)| p.event(value)).collect();
    let transport = playing.map(|playing| Tempo { bpm: 120.0, signature: (4, 4) }.at(0.0, playing));
    let block = Block {
        main: &main,
        side: Side::Unconnected,
        changes: &changes,
        transport: transport.as_ref(),
        ..Block::default()
    };
    audio.process(&block).expect("processes").0
}

#[test]
fn bypass_stops_measuring_and_keeps_what_was_measured() {
    let mut plugin = instance();
    let bypass = plugin.parameter("Bypass").expect("there");
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    half_second(&mut audio, None, None);
    half_second(&mut audio, Some((&bypass, 1.0)), None);
    half_second(&mut audio, None, None);
    assert_eq!(measured_s(&mut plugin), 0.5);
    half_second(&mut audio, Some((&bypass, 0.0)), None);
    assert_eq!(measured_s(&mut plugin), 1.0);
    plugin.deactivate(audio);
}

#[test]
fn the_reset_parameter_acts_when_it_rises() {
    let mut plugin = instance();
    let reset = plugin.parameter("Reset").expect("there");
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    half_second(&mut audio, None, None);
    half_second(&mut audio, None, None);
    half_second(&mut audio, Some((&reset, 1.0)), None);
    assert_eq!(measured_s(&mut plugin), 0.5);
    half_second(&mut audio, None, None);
    half_second(&mut audio, Some((&reset, 0.0)), None);
    assert_eq!(measured_s(&mut plugin), 1.5, "neither held nor let go does it act");
    plugin.deactivate(audio);
}

#[test]
fn a_start_of_the_transport_resets_only_where_wanted() {
    let mut plugin = instance();
    let follow = plugin.parameter("Reset on transport start").expect("there");
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    half_second(&mut audio, None, Some(false));
    half_second(&mut audio, None, Some(true));
    assert_eq!(measured_s(&mut plugin), 1.0);
    half_second(&mut audio, Some((&follow, 1.0)), Some(false));
    half_second(&mut audio, None, Some(true));
    assert_eq!(measured_s(&mut plugin), 0.5);
    plugin.deactivate(audio);
}

/// A session that is opened, runs in silence and is saved keeps its pass; what plays then takes its place.
#[test]
fn a_saved_pass_outlives_silence() {
    let mut plugin = instance();
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    half_second(&mut audio, None, None);
    plugin.deactivate(audio);
    let state = plugin.save().expect("saves");
    let mut plugin = instance();
    plugin.restore(&state.bytes).expect("restores");
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    let main = vec![vec![0.0; 96_000]; 2];
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(512)).expect("plays");
    assert_eq!(plugin.save().expect("saves").field("pass"), state.field("pass"));
    half_second(&mut audio, None, None);
    assert_eq!(measured_s(&mut plugin), 2.5, "silence and sound of the new pass");
    plugin.deactivate(audio);
}

#[test]
fn bars_and_beats_of_the_song_are_kept_for_any_block_size() {
    let main = beat(RATE_HZ, 9.0, 2);
    let tempo = Some(Tempo { bpm: 120.0, signature: (3, 4) });
    for blocks in [Blocks::Even(1024), Blocks::Random { max: 700, seed: 5 }, Blocks::Even(72_000)] {
        let mut plugin = instance();
        let mut audio = plugin.activate(RATE_HZ, 72_000).expect("activates");
        play(&mut audio, &Song { main: &main, tempo, ..Song::default() }, &blocks).expect("plays");
        plugin.deactivate(audio);
        let saved = plugin.save().expect("saves");
        let pass = saved.field("pass").expect("measured");
        let bars = pass["bars"]["time_s"].as_array().expect("bars");
        assert_eq!(bars.len(), 6, "{blocks:?}: 9 s at 120 beats a minute in 3/4");
        for (k, time_s) in bars.iter().enumerate() {
            let time_s = time_s.as_f64().expect("time");
            assert!((time_s - 1.5 * k as f64).abs() < 1e-4, "{blocks:?}: bar {k} at {time_s} s");
            assert_eq!(pass["bars"]["number"][k].as_u64(), Some(k as u64 + 1), "{blocks:?}");
        }
        let report = saved.report().expect("reads").expect("measured");
        let beats = pass["hits"]["beat"].as_array().expect("beats");
        assert!(!report.hits.is_empty(), "the beat has hits");
        assert_eq!(beats.len(), report.hits.len());
        for (hit, beat) in report.hits.iter().zip(beats) {
            let beat = beat.as_f64().expect("the transport runs");
            assert!((beat - 2.0 * hit.time_s).abs() < 1e-3, "{blocks:?}: {hit:?} at {beat}");
        }
    }
}

#[test]
fn the_host_may_sleep_only_when_nothing_moves_any_more() {
    let mut plugin = instance();
    let mut audio = plugin.activate(RATE_HZ, 24_000).expect("activates");
    assert_eq!(half_second(&mut audio, None, Some(true)), Status::Continue);
    for _ in 0..8 {
        half_second(&mut audio, None, Some(false));
    }
    assert_eq!(half_second(&mut audio, None, Some(false)), Status::Continue);
    assert_eq!(audio.tail(), Some(144_000), "3 s: the short-term window");
    let silence = vec![0.0; 24_000];
    let main = [&silence[..], &silence[..]];
    let quiet = |playing: bool, audio: &mut Audio| {
        let transport = Tempo { bpm: 120.0, signature: (4, 4) }.at(0.0, playing);
        let block = Block { main: &main, transport: Some(&transport), ..Block::default() };
        audio.process(&block).expect("processes").0
    };
    let falling: Vec<_> = (0..10).map(|_| quiet(false, &mut audio)).collect();
    assert_eq!(falling[0], Status::Continue, "the short-term reading still falls");
    assert_eq!(falling[9], Status::ContinueIfNotQuiet, "5 s of silence at rest");
    assert_eq!(quiet(true, &mut audio), Status::Continue, "song time runs on in silence");
    plugin.deactivate(audio);
}

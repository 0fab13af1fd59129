//! The plug-in's numbers are the engine's, whatever the blocks.

use brunt_engine::thresholds::LARGEST_SAMPLE;
use brunt_engine::{
    BandStats, Config, HistoryPoint, Hit, HitBands, HitShape, Meter, ShapeStats, Sink, Thresholds,
};
use brunt_host::render::play;
use brunt_host::{Blocks, Song};
use brunt_report::report::{Report, ShapeReport, Source, SpectrumReport, Timeline};
use serde_json::Value;

use crate::material::{any_bits, beat, instance};

/// Largest difference allowed, in each number's own unit (project's own bar).
const TOLERANCE: f64 = 1e-6;

#[derive(Default)]
struct Kept {
    hits: Vec<Hit>,
    timeline: Timeline,
    shape: ShapeStats,
    bands: BandStats,
}

impl Sink for Kept {
    fn hit(&mut self, hit: &Hit) {
        self.hits.push(*hit);
    }

    fn shape(&mut self, shape: &HitShape) {
        self.shape.add(shape);
    }

    fn bands(&mut self, bands: &HitBands) {
        self.bands.add(bands);
    }

    fn history(&mut self, point: &HistoryPoint) {
        self.timeline.add(point);
    }
}

/// The report of a bare meter, fed in blocks of 480.
fn direct(rate_hz: f64, main: &[Vec<f32>]) -> Value {
    let config = Config { sample_rate_hz: rate_hz, channels: main.len() };
    let mut meter = Meter::new(config).expect("a sound configuration");
    let mut kept = Kept::default();
    for at in (0..main[0].len()).step_by(480) {
        let end = main[0].len().min(at + 480);
        let block: Vec<&[f32]> = main.iter().map(|channel| &channel[at..end]).collect();
        meter.process(&block, None, &mut kept);
    }
    let mix = Source {
        sample_rate_hz: rate_hz,
        channels: main.len(),
        duration_s: meter.readings().time_s,
        ..Source::default()
    };
    let mut report = Report::new(mix, meter.readings(), &kept.hits, Thresholds::default())
        .with_history(&kept.timeline);
    report.punch.shape = ShapeReport::of(&kept.shape);
    report.punch.spectrum = SpectrumReport::of(&kept.bands);
    serde_json::to_value(report).expect("a report is JSON")
}

/// Every place where two reports differ.
fn differences(path: &str, a: &Value, b: &Value, found: &mut Vec<String>) {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            for key in a.keys().chain(b.keys().filter(|key| !a.contains_key(*key))) {
                let (a, b) = (a.get(key), b.get(key));
                let null = &Value::Null;
                differences(&format!("{path}.{key}"), a.unwrap_or(null), b.unwrap_or(null), found);
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (k, (a, b)) in a.iter().zip(b).enumerate() {
                differences(&format!("{path}[{k}]"), a, b, found);
            }
        }
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap_or(f64::NAN), y.as_f64().unwrap_or(f64::NAN));
            let close = (x - y).abs() <= TOLERANCE;
            if !close {
                found.push(format!("{path}: {x} against {y}"));
            }
        }
        _ if a == b => {}
        _ => found.push(format!("{path}: {a} against {b}")),
    }
}

fn check(rate_hz: f64, main: &[Vec<f32>], blocks: &Blocks) {
    let expected = direct(rate_hz, main);
    let mut plugin = instance();
    if main.len() == 1 {
        let mono = plugin.layouts().into_iter().find(|l| l.channels.0 == 1).expect("a mono layout");
        plugin.choose(&mono).expect("taken");
    }
    let mut audio = plugin.activate(rate_hz, 48_000).expect("activates");
    play(&mut audio, &Song { main, ..Song::default() }, blocks).expect("plays");
    plugin.deactivate(audio);
    let saved = plugin.save().expect("saves");
    let report = saved.report().expect("reads").expect("measured");
    let got = serde_json::to_value(report).expect("a report is JSON");
    let mut found = Vec::new();
    differences("report", &expected, &got, &mut found);
    assert!(found.is_empty(), "{blocks:?} at {rate_hz} Hz:\n{}", found.join("\n"));
}

#[test]
fn for_any_block_size() {
    let main = beat(48_000.0, 12.0, 2);
    for blocks in [
        Blocks::Even(1),
        Blocks::Even(64),
        Blocks::Even(48_000),
        Blocks::Cycle(vec![1, 479, 480, 481, 2048]),
        Blocks::Random { max: 2048, seed: 21 },
    ] {
        check(48_000.0, &main, &blocks);
    }
}

#[test]
fn at_other_rates_and_in_mono() {
    for rate_hz in [44_100.0, 96_000.0] {
        check(rate_hz, &beat(rate_hz, 8.0, 2), &Blocks::Random { max: 2048, seed: 22 });
        check(rate_hz, &beat(rate_hz, 8.0, 1), &Blocks::Random { max: 2048, seed: 23 });
    }
}

#[test]
fn with_nan_and_infinities_in_the_input() {
    let main = any_bits(96_000, 2, 24);
    let bad = |test: fn(f32) -> bool| main.iter().flatten().filter(|x| test(**x)).count() as u64;
    check(48_000.0, &main, &Blocks::Random { max: 512, seed: 25 });
    let mut plugin = instance();
    let mut audio = plugin.activate(48_000.0, 512).expect("activates");
    play(&mut audio, &Song { main: &main, ..Song::default() }, &Blocks::Even(480)).expect("plays");
    plugin.deactivate(audio);
    let report = plugin.save().expect("saves").report().expect("reads").expect("measured");
    assert_eq!(report.input.nan_samples, bad(f32::is_nan));
    assert_eq!(report.input.inf_samples, bad(|x| x.abs() > LARGEST_SAMPLE));
}

//! The shape of the mix's hits at kick and snare, which a linked drum part plays, against what the engine
//! makes of the same stems as files.

use brunt_engine::parts::PartRole::{Bass, Drums};
use brunt_engine::{Config, HitShape, Meter, Sink};
use brunt_report::report::DrumShape;

use crate::session::{Band, RATE_HZ, Stem, frames, offline, sum};

/// Decaying tones: frequency, Hz, time constant, s, and level.
fn tones(times_s: &[f64], seconds: f64, (hz, tau_s, level): (f64, f64, f64)) -> Vec<Vec<f32>> {
    let mut plane = vec![0.0f32; frames(seconds)];
    for time_s in times_s {
        for (k, x) in plane.iter_mut().skip(frames(*time_s)).take(frames(0.4)).enumerate() {
            let s = k as f64 / RATE_HZ;
            *x += (level * (-s / tau_s).exp() * (std::f64::consts::TAU * hz * s).sin()) as f32;
        }
    }
    vec![plane.clone(), plane]
}

#[derive(Default)]
struct Shapes(Vec<HitShape>);

impl Sink for Shapes {
    fn shape(&mut self, shape: &HitShape) {
        self.0.push(*shape);
    }
}

#[test]
fn hits_have_a_shape_at_the_kick_and_at_the_snare() {
    let seconds = 16.0;
    let beats: Vec<f64> = (1..30).map(|k| 0.5 * f64::from(k)).collect();
    let every_other = |from: usize| beats.iter().skip(from).step_by(2).copied().collect::<Vec<_>>();
    let kick = tones(&every_other(0), seconds, (60.0, 0.09, 0.6));
    let snare = tones(&every_other(1), seconds, (700.0, 0.025, 0.3));
    // Notes of its own between the beats: hits of no drum.
    let off: Vec<f64> = beats.iter().map(|time| time + 0.25).collect();
    let kit = Stem { name: "Kit", role: Drums, planes: kick };
    let kit = Stem { planes: sum(&[kit.clone(), Stem { planes: snare, ..kit.clone() }]), ..kit };
    let bass = tones(&off, seconds, (180.0, 0.04, 0.2));
    let stems = [kit, Stem { name: "Bass", role: Bass, planes: bass }];

    let mix = sum(&stems);
    let config = Config { sample_rate_hz: RATE_HZ, channels: 2 };
    let mut meter = Meter::new(config).expect("a sound rate");
    let mut shapes = Shapes::default();
    meter.process(&[&mix[0], &mix[1]], None, &mut shapes);
    meter.finish(&mut shapes);
    let wanted = DrumShape::all(&offline(&stems, RATE_HZ), &shapes.0, RATE_HZ);
    let drums: Vec<&str> = wanted.iter().map(|shape| shape.drum.as_str()).collect();
    assert_eq!(drums, ["kick", "snare"]);
    assert!(shapes.0.len() > 50, "{} hits", shapes.0.len());

    let mut band = Band::new(&stems, RATE_HZ);
    band.play(&stems, 0, frames(seconds));
    band.stop();
    // The reading of the parts comes some time after they were played.
    let report = band.report("both drums", |report| {
        let of = &report.punch.shape_by_drum;
        of.len() == 2 && of.iter().zip(&wanted).all(|(got, want)| got.shape.hits == want.shape.hits)
    });
    for (got, want) in report.punch.shape_by_drum.iter().zip(&wanted) {
        println!("{}: {} hits, {:?} dB", got.drum, got.shape.hits, got.shape.height_db);
        assert_eq!((&got.drum, &got.file), (&want.drum, &want.file));
        // Every stroke of it, and none of the bass' notes.
        assert!((14..=15).contains(&got.shape.hits), "{} hits", got.shape.hits);
        let apart = got.shape.height_db.zip(want.shape.height_db).map(|(a, b)| (a - b).abs());
        assert!(apart.is_some_and(|db| db < 0.05), "{apart:?}");
    }
}

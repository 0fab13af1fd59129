//! A rule of thumb of the trade: two strummed parts that are tight share one spike; one 20 ms
//! early and the other 10 ms late, the spike is gone. Common practice, no source: so the loss is
//! measured on the summed audio itself, and the reading is held against that.

use crate::rig::{Measured, measure_all};
use brunt_lab::corpus::truth::k_weighted;
use brunt_lab::session::plan::Sound;
use brunt_lab::session::strings::Voice;
use brunt_lab::session::{Feel, Layer, Plan};

fn plan(first: Sound, second: Sound, offsets_ms: [f64; 2], seed: u64) -> Plan {
    let row = "C---C-C---C-C---";
    Plan {
        name: "two-strums",
        tempo: 100.0,
        steps: 4,
        beats: 4,
        bars: 8,
        chords: vec![(31, false), (36, false), (33, true), (38, false)],
        seed,
        layers: vec![
            Layer::clean("strum-a", first, row).played(Feel::of(offsets_ms[0], 1.0)),
            Layer::clean("strum-b", second, row).played(Feel::of(offsets_ms[1], 1.0)),
        ],
    }
}

/// Mean level of the loudest 10 ms of the summed audio around each strum, dB, K-weighted after
/// BS.1770-5.
fn spikes_db(measured: &Measured) -> f64 {
    let mix = k_weighted(&measured.rendered.mix());
    let rate = f64::from(mix.rate);
    let power: Vec<f64> =
        mix.left.iter().zip(&mix.right).map(|(l, r)| f64::from(l * l + r * r)).collect();
    let notes = &measured.rendered.stems[0].notes;
    let levels: Vec<f64> = notes
        .iter()
        .map(|note| {
            let window = (0.010 * rate) as usize;
            let from = ((note.grid_s - 0.025) * rate) as usize;
            let to = ((note.grid_s + 0.040) * rate) as usize;
            let most = (from..to)
                .step_by(24)
                .map(|at| power[at..at + window].iter().sum::<f64>() / window as f64)
                .fold(0.0, f64::max);
            10.0 * most.log10()
        })
        .collect();
    levels.iter().sum::<f64>() / levels.len() as f64
}

#[test]
fn two_strums_apart_lose_their_shared_spike() {
    let soft = Voice { decay_s: 0.9, ..Voice::SOFT };
    let sounds = [
        (Sound::Strings(soft, 12), Sound::Strings(Voice { place: 0.3, ..soft }, 12)),
        (Sound::Font(24, 12), Sound::Font(26, 12)),
        (Sound::Font(25, 12), Sound::Strings(soft, 12)),
    ];
    // A strum that swells has no spike to lose: at least one of the pairs must have one.
    let mut spikes = 0;
    for (number, (first, second)) in sounds.into_iter().enumerate() {
        let seed = 900 + number as u64;
        let both = measure_all(vec![
            plan(first.clone(), second.clone(), [0.0, 0.0], seed),
            plan(first, second, [-20.0, 10.0], seed),
        ]);
        let measured = spikes_db(&both[0]) - spikes_db(&both[1]);
        let reading = both[1].read();
        let read = reading.timing.summed.both.expect("shared strums").db;
        let tight = both[0].read().timing.summed.both.expect("shared strums").db;
        println!("pair {number}: measured {measured:.2} dB, read {read:.2}, tight {tight:.2}");
        assert!((read - measured).abs() <= 1.0, "read {read:.2} dB, measured {measured:.2} dB");
        if measured >= 0.5 {
            spikes += 1;
            assert!(read > tight, "the loose version must cost more than the tight one");
        }
        let double = reading.timing.doubles.first().expect("two takes of one riff");
        let apart = double.deviation.offset_ms;
        assert!((apart - 30.0).abs() <= 3.0, "second against first: {apart:.1} ms, expected 30");
    }
    assert!(spikes > 0, "no pair with a spike");
}

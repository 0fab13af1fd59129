//! The mids beside a reference track. The changes of tone are known filters put in by the test, so the
//! truth is outside the meter; the bars for a dip and for shelves of 9 dB are the project's own
//! (95 % of mixes).

use brunt_engine::{Balance, Config, Meter, Mids, Readings, Shape, SideRole, State};
use brunt_lab::corpus::Stereo;
use brunt_lab::corpus::process::equal::{dip, shelves, tilt};
use rayon::prelude::*;

use super::rendered::{all, meter};

const RATE_HZ: f64 = 48_000.0;

fn beside(mix: &Stereo, reference: &Balance) -> Mids {
    let mut meter = Meter::new(Config { sample_rate_hz: RATE_HZ, channels: 2 }).expect("48 kHz");
    meter.assume_reference(reference.thirds_dbfs);
    meter.process(&mix.channels(), None, &mut ());
    meter.finish(&mut ());
    meter.readings().leaks.mids
}

/// The mix beside itself differs by nothing, at any gain; with 9 dB taken from its mids, or put on its
/// ends, it leaks beside itself and the shape is told, whatever the song: here no song has to be
/// like another. A tilt of 1 dB an octave does not leak.
#[test]
fn beside_itself_a_mix_is_clear_and_leaks_where_its_mids_were_taken() {
    let told: Vec<[bool; 6]> = all()
        .par_iter()
        .step_by(2)
        .map(|song| {
            let own = meter(&song.mix).readings.balance;
            let mut quiet = song.mix.clone();
            quiet.gain(0.25);
            let changed =
                [quiet, dip(&song.mix, 9.0), shelves(&song.mix, 9.0), tilt(&song.mix, -1.0)];
            let [flat, dip, shelves, dark] = changed.map(|mix| beside(&mix, &own));
            let none = flat.beside.expect("a reference");
            assert!(none.weakness_db.abs() < 0.01 && none.deficit_db.abs() < 0.01, "{none:?}");
            assert!(flat.cost.expect("known").db < 0.01, "{flat:?}");
            println!("{:<16} dip {:.2?}, shelves {:.2?}", song.name, dip.beside, shelves.beside);
            [
                flat.state == State::Clear && flat.shape == Some(Shape::Even),
                dip.state == State::Leaking,
                dip.shape == Some(Shape::Scooped),
                shelves.state == State::Leaking,
                shelves.shape == Some(Shape::BoostedExtremes),
                dark.state != State::Leaking && dark.shape == Some(Shape::Dark),
            ]
        })
        .collect();
    let share =
        |at: usize| told.iter().filter(|told| told[at]).count() as f64 / told.len().max(1) as f64;
    let shares: [f64; 6] = std::array::from_fn(share);
    println!("clear, dip leaks, scooped, shelves leak, boosted, tilt dark: {shares:.2?}");
    assert_eq!(shares[0], 1.0);
    assert!(shares.iter().all(|share| *share >= 0.95), "{shares:.2?}");
}

/// Live, on the side-chain, the same is read as from a reference known beforehand; nothing is said
/// of it before 5 s of it were heard, nor in another role.
#[test]
fn a_side_chain_is_a_reference_once_enough_of_it_was_heard() {
    let [mix, other] = [&all()[0].mix, &all()[1].mix];
    let known = beside(mix, &meter(other).readings.balance).beside.expect("a reference");
    let read = |role: SideRole, seconds: f64| -> Readings {
        let mut meter =
            Meter::new(Config { sample_rate_hz: RATE_HZ, channels: 2 }).expect("48 kHz");
        meter.set_side_role(role);
        let frames = mix.len().min(other.len());
        let silent = vec![0.0; 512];
        for from in (0..frames).step_by(512) {
            let to = frames.min(from + 512);
            let cut = |audio: &'static Stereo| audio.channels().map(|side| &side[from..to]);
            let heard = (to as f64) < seconds * RATE_HZ;
            let side = if heard { cut(other) } else { [&silent[..to - from]; 2] };
            meter.process(&cut(mix), Some(&side), &mut ());
        }
        meter.finish(&mut ());
        *meter.readings()
    };
    let live = read(SideRole::Reference, f64::INFINITY).leaks.mids.beside.expect("a reference");
    // The last window of the reference's spectrum is not full yet.
    assert!((live.weakness_db - known.weakness_db).abs() < 0.1, "{live:?} {known:?}");
    assert!((live.deficit_db - known.deficit_db).abs() < 0.2, "{live:?} {known:?}");
    assert_eq!(read(SideRole::Reference, 3.0).leaks.mids.beside, None);
    assert!(read(SideRole::Reference, 7.0).leaks.mids.beside.is_some());
    assert_eq!(read(SideRole::Partner, f64::INFINITY).leaks.mids.beside, None);
}

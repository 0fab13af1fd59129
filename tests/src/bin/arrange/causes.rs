//! Predicted costs against the measured change of hit contrast, one cause at a time and by pairs.

use brunt_engine::parts::cost::Arrangement;
use brunt_engine::parts::{clutter, drive};
use brunt_engine::{LeakKind, PartLeak, State, Thresholds};
use brunt_tests::arrange::causes::{Cause, Degraded, loss_db, session};
use brunt_tests::arrange::tracks;
use brunt_tests::corpus::measure::measure;
use brunt_tests::corpus::mix::Library;

pub fn run(seeds: u64) {
    let mut library = Library::default();
    for seed in 101..=100 + seeds {
        let clean = session(seed, &[], &mut library).expect("packages of the corpus");
        show(seed, "clean", &clean, &clean);
        for cause in Cause::ALL {
            let other = session(seed, &[cause], &mut library).expect("packages of the corpus");
            show(seed, &format!("{cause:?}"), &clean, &other);
        }
    }
}

fn show(seed: u64, name: &str, clean: &Degraded, other: &Degraded) {
    let tracks = tracks(&other.session).expect("48 kHz");
    let arrangement = Arrangement::new(&tracks);
    let limits = Thresholds::default();
    let clutter = clutter::read(&arrangement, &limits).leak;
    let drive = drive::read(&arrangement, &tracks, &limits);
    let mix = measure(&other.mix).expect("48 kHz").readings;
    let ceiling = mix.leaks.get(LeakKind::Ceiling);
    let mids = mix.leaks.get(LeakKind::Mids);
    let text = |leak: &PartLeak| {
        let mark = match leak.state {
            State::Unknown => '?',
            State::Clear => ' ',
            State::Watch => '!',
            State::Leaking => '*',
        };
        format!("{:5.2}{mark}", leak.cost.map_or(f64::NAN, |cost| cost.db))
    };
    let drops: Vec<String> = drive
        .rows
        .iter()
        .filter_map(|row| row.notes)
        .map(|n| format!("{:.1}{:?}{}", n.drop_db, n.held, n.notes))
        .collect();
    println!(
        "{seed:3} {name:8} measured {:5.2}; ceiling {} clutter {} drive {} mids {}; contrast {:.2}; {}",
        loss_db(clean, other),
        text(&ceiling),
        text(&clutter),
        text(&drive.leak),
        text(&mids),
        mix.punch.contrast_db.unwrap_or(f64::NAN),
        drops.join(" "),
    );
}

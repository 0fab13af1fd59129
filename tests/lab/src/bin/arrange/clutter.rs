//! The clutter reading over drawn arrangements.

use brunt_engine::parts::clutter::of_tracks;
use brunt_engine::{State, Thresholds};
use brunt_lab::arrange::clutter::{Kind, plan, true_ratio};
use brunt_lab::arrange::tracks;
use brunt_lab::corpus::mix::Library;
use brunt_lab::session::render;

pub fn run(seeds: u64) {
    let mut library = Library::default();
    let (mut right, mut all) = (0, 0);
    let mut errors = Vec::new();
    for seed in 1..=seeds {
        for kind in Kind::ALL {
            let session =
                render(&plan(kind, seed), 48_000, &mut library).expect("packages of the corpus");
            let tracks = tracks(&session).expect("48 kHz");
            let read = of_tracks(&tracks, &Thresholds::default());
            let clutter = read.leak.state.loses();
            let ok = read.leak.state != State::Unknown && clutter == kind.is_clutter();
            all += 1;
            right += usize::from(ok);
            let cost = read.leak.cost.unwrap_or_default();
            println!(
                "{}{seed:3} {kind:?} {:?} {:.2} ({:.2} to {:.2}) dB, layers {:.1}, worst {}",
                if ok { "  " } else { "X " },
                read.leak.state,
                cost.db,
                cost.low_db,
                cost.high_db,
                read.layers_at_hits.unwrap_or(f64::NAN),
                read.worst.map_or("none", |part| tracks[part].name.as_str()),
            );
            for (track, row) in tracks.iter().zip(&read.rows).skip(1) {
                let truth = true_ratio(&session, session.stem(&track.name).name, 0.030);
                let got = row.shared_onset_ratio.unwrap_or(f64::NAN);
                errors.push((got - truth).abs());
                println!(
                    "       {:12} shared {got:.2} of {truth:.2}, own {:.2}, sustain {:.2}, held {:.2}, \
                     {:.2} dB, {} onsets of {}",
                    track.name,
                    row.own_rhythm.unwrap_or(f64::NAN),
                    row.sustain_ratio.unwrap_or(f64::NAN),
                    row.held_share.unwrap_or(f64::NAN),
                    row.cost.map_or(f64::NAN, |cost| cost.db),
                    track.onsets.len(),
                    session.stem(&track.name).times_s(0.025).len(),
                );
            }
        }
    }
    errors.sort_by(f64::total_cmp);
    let within = errors.iter().filter(|e| **e <= 0.05).count();
    println!("state right: {right} of {all}");
    println!("shared-onset ratio within 0.05: {within} of {}", errors.len());
}

//! States of programmed arrangements, and shared-onset ratios against what was programmed.

use brunt_engine::parts::clutter::of_tracks;
use brunt_engine::{Need, State, Thresholds};
use brunt_tests::arrange::clutter::{Kind, plan};
use brunt_tests::arrange::tracks;
use brunt_tests::corpus::mix::Library;
use brunt_tests::session::render;

#[test]
fn locked_and_dense_are_clear_and_scattered_and_walls_are_not() {
    let mut library = Library::default();
    for seed in 41..44 {
        for kind in Kind::ALL {
            let session = render(&plan(kind, seed), 48_000, &mut library).expect("packages");
            let tracks = tracks(&session).expect("48 kHz");
            let clutter = of_tracks(&tracks, &Thresholds::default());
            let told = match clutter.leak.state {
                State::Unknown => None,
                State::Clear => Some(false),
                State::Watch | State::Leaking => Some(true),
            };
            assert_eq!(told, Some(kind.is_clutter()), "{seed} {kind:?}: {:?}", clutter.leak);
            if kind == Kind::Scattered {
                let worst = clutter.worst.expect("a part that costs");
                assert!(["answer", "filler"].contains(&tracks[worst].name.as_str()), "{seed}");
                assert!(clutter.rows[worst].own_rhythm.is_some_and(|own| own > 0.5));
            }
        }
    }
}

#[test]
fn without_drums_or_without_others_nothing_is_said() {
    let mut library = Library::default();
    let session = render(&plan(Kind::Locked, 41), 48_000, &mut library).expect("packages");
    let all = tracks(&session).expect("48 kHz");
    for some in [&all[..1], &all[1..]] {
        let clutter = of_tracks(some, &Thresholds::default());
        assert_eq!((clutter.leak.state, clutter.leak.need), (State::Unknown, Need::Parts));
    }
}

//! Kicks and snares told apart in the drums' part alone.

use brunt_engine::Config;
use brunt_engine::parts::{Drum, PartRole, PartTrack, drums};
use brunt_lab::corpus::drums::Drum as Played;
use brunt_lab::corpus::player::Instrument;

use crate::rendered::all;

/// Of the strokes that are told, nine in ten are what was played (bar of our own), and three in four
/// of the kicks and snares that stand out are told, over the drum buses of all songs. Truth: what the
/// songs' rows say, at 15 ms. A kick and a snare at one instant may be called either.
#[test]
fn kicks_and_snares_are_told_apart() {
    let (mut right, mut wrong, mut asked, mut found) = (0, 0, 0, 0);
    for rendered in all() {
        let bus = &rendered.mix.buses["drums"];
        let config = Config { sample_rate_hz: f64::from(bus.rate), channels: 2 };
        let track =
            PartTrack::measure(PartRole::Drums, "drums", config, &bus.channels().map(|c| c))
                .expect("a good rate");
        let told = drums(&track);
        let played = |drum: Drum| match drum {
            Drum::Kick => Played::Kick,
            Drum::Snare => Played::Snare,
        };
        let near = |time: f64, at: f64| (time - at).abs() < 0.015;
        let truth = &rendered.mix.truth;
        let (mut here, mut off) = (0, 0);
        for &(time, drum) in &told {
            let is = Instrument::Drum(played(drum));
            if truth.iter().any(|t| t.instrument == is && near(t.time_s, time)) {
                here += 1;
            } else {
                off += 1;
            }
        }
        let backbone = truth.iter().filter(|t| t.is_backbone() && t.is_audible());
        let (mut want, mut got) = (0, 0);
        for t in backbone {
            want += 1;
            got += usize::from(told.iter().any(|&(time, drum)| {
                near(time, t.time_s) && Instrument::Drum(played(drum)) == t.instrument
            }));
        }
        println!("{:<16} {here} right, {off} wrong; {got} of {want} told", rendered.song.name);
        right += here;
        wrong += off;
        asked += want;
        found += got;
    }
    println!("all: {right} right, {wrong} wrong; {found} of {asked} told");
    assert!(wrong * 10 <= right + wrong, "{wrong} of {} wrong", right + wrong);
    assert!(found * 4 >= asked * 3, "{found} of {asked} told");
}

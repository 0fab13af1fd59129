//! The drive reading over riffs, instruments, tempos and gains.

use brunt_engine::parts::drive::{Held, level_spread_db, read_notes};
use brunt_lab::arrange::gains::{GAINS_DB, RIFFS, SOUNDS, riff};
use brunt_lab::arrange::track;
use brunt_lab::corpus::mix::Library;

pub fn run(seeds: u64) {
    let mut library = Library::default();
    let (mut right, mut held_right, mut held_all, mut all) = (0, 0, 0, 0);
    for seed in 1..=seeds {
        for (r, &(riff_name, row)) in RIFFS.iter().enumerate() {
            for (s, (sound_name, sound)) in SOUNDS.iter().enumerate() {
                let tempo = [92.0, 138.0, 180.0][(r + s + seed as usize) % 3];
                let mut line = String::new();
                let (mut drops, mut spreads) = (Vec::new(), Vec::new());
                for gain_db in GAINS_DB {
                    let session = riff(row, sound, tempo, seed, gain_db, &mut library)
                        .expect("the packages of the corpus");
                    let track = track(&session.stems[0]).expect("48 kHz");
                    let spread = level_spread_db(&track);
                    spreads.extend(spread);
                    let notes = read_notes(&track).filter(|n| n.held == Held::Held);
                    drops.extend(notes.map(|n| n.drop_db));
                    line += &format!(
                        " | {:5.2} {:5.2} {:2}",
                        spread.unwrap_or(f64::NAN),
                        notes.map_or(f64::NAN, |n| n.drop_db),
                        notes.map_or(0, |n| n.notes),
                    );
                }
                let falls = |x: &[f64]| x.windows(2).all(|pair| pair[0] > pair[1]);
                let ok = spreads.len() == 6 && falls(&spreads);
                all += 1;
                right += usize::from(ok);
                held_all += usize::from(drops.len() > 1);
                held_right += usize::from(drops.len() > 1 && falls(&drops));
                let mark = if ok { "  " } else { "X " };
                println!("{mark}{riff_name:20} {sound_name:8} {tempo:3}{line}");
            }
        }
    }
    println!("rank order right: {right} of {all}");
    println!("drop of held notes, where it could be read: {held_right} of {held_all}");
}

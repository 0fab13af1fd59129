//! Cost read against what was really lost, for each leak, by kind of songs: `costs [SEEDS]`.

use brunt_engine::{PartLeak, State};
use brunt_lab::corpus::mix::Library;
use brunt_lab::costs::{Generator, Read, read, really_lost_db};
use brunt_lab::take::Variant;
use std::process::ExitCode;

const TIMING: [Variant; 6] = [
    Variant::Late(10.0),
    Variant::Late(20.0),
    Variant::Late(30.0),
    Variant::Jitter(8.0),
    Variant::Jitter(14.0),
    Variant::Jitter(20.0),
];
const CLUTTER: [Variant; 3] = [Variant::Scattered, Variant::Layer(-6.0), Variant::Layer(0.0)];
const DRIVE: [Variant; 3] = [Variant::Gain(8.0), Variant::Gain(24.0), Variant::Gain(40.0)];

fn main() -> ExitCode {
    let seeds = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(6);
    let mut library = Library::default();
    for generator in Generator::ALL {
        let mut tallies = [Tally::default(), Tally::default(), Tally::default()];
        for seed in 501..501 + seeds {
            if let Err(e) = song(generator, seed, &mut library, &mut tallies) {
                eprintln!("costs: {e}");
                return ExitCode::FAILURE;
            }
        }
        for (tally, leak) in tallies.iter_mut().zip(["timing", "clutter", "drive"]) {
            tally.print(&format!("{generator:?}"), leak);
        }
    }
    ExitCode::SUCCESS
}

fn song(
    generator: Generator,
    seed: u64,
    library: &mut Library,
    tallies: &mut [Tally; 3],
) -> Result<(), Box<dyn std::error::Error>> {
    let clean = read(&generator.take(seed, Variant::Locked, library)?)?;
    for (n, variants) in [&TIMING[..], &CLUTTER[..], &DRIVE[..]].into_iter().enumerate() {
        tallies[n].clean.push(leak(&clean, n).state);
        for &variant in variants {
            let damaged = read(&generator.take(seed, variant, library)?)?;
            let lost_db = really_lost_db(&clean, &damaged);
            let leak_now = leak(&damaged, n);
            let estimated =
                leak(&Read { measured: damaged.estimated.clone(), ..damaged.clone() }, n);
            let db = |leak: PartLeak| leak.cost.map_or(f64::NAN, |cost| cost.db);
            let [attack, attack_estimated] = [leak_now, estimated]
                .map(|leak: PartLeak| leak.attack.map_or(f64::NAN, |cost| cost.db));
            println!(
                "{generator:?} {seed} {:<14} really lost {lost_db:5.2}  read {:5.2}  estimated {:5.2}  \
                 own attacks {attack:5.2}, {attack_estimated:5.2}  buried {:3} of {:3}  {:?}",
                format!("{variant:?}"),
                db(leak_now),
                db(estimated),
                damaged.buried,
                damaged.hits.len(),
                leak_now.state
            );
            tallies[n].add(lost_db, leak_now, db(estimated), db(leak(&clean, n)));
            tallies[n].attacks.push((attack - attack_estimated).abs());
        }
    }
    Ok(())
}

fn leak(read: &Read, n: usize) -> PartLeak {
    let reading = &read.measured;
    [reading.timing.leak, reading.clutter.leak, reading.drive.leak][n]
}

/// What was read of one leak.
#[derive(Default)]
struct Tally {
    errors: Vec<f64>,
    estimates: Vec<f64>,
    attacks: Vec<f64>,
    given: usize,
    fits: usize,
    all: usize,
    clean: Vec<State>,
}

impl Tally {
    fn add(&mut self, lost_db: f64, leak: PartLeak, estimated_db: f64, clean_db: f64) {
        self.all += 1;
        let clean_db = if clean_db.is_nan() { 0.0 } else { clean_db };
        if let Some(cost) = leak.cost {
            self.given += 1;
            self.errors.push((cost.db - clean_db - lost_db).abs());
            self.estimates.push((cost.db - estimated_db).abs());
        }
        self.fits += usize::from(lost_db < 1.5 || leak.state.loses());
    }

    fn print(&mut self, generator: &str, leak: &str) {
        let at = |values: &mut Vec<f64>, q: f64| {
            values.sort_by(f64::total_cmp);
            values
                .get(((values.len() as f64 - 1.0) * q).round() as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        let clear = self.clean.iter().filter(|state| !state.loses()).count();
        println!(
            "{generator} {leak}: error median {:.2}, 90th percentile {:.2} dB; given {} of {}; states that \
             fit {} of {}; undamaged clear {clear} of {}; estimated against re-measured median {:.2}, 90th \
             percentile {:.2} dB, of the attacks' own {:.2}, {:.2} dB",
            at(&mut self.errors, 0.5),
            at(&mut self.errors, 0.9),
            self.given,
            self.all,
            self.fits,
            self.all,
            self.clean.len(),
            at(&mut self.estimates, 0.5),
            at(&mut self.estimates, 0.9),
            at(&mut self.attacks, 0.5),
            at(&mut self.attacks, 0.9),
        );
    }
}

//! Predicted costs against the measured change of hit contrast, one cause at a time and by pairs.

use brunt_engine::{Cost, PartLeak, State};
use brunt_lab::arrange::causes::{Cause, Degraded, leaks, loss_db, session, without_causes};
use brunt_lab::corpus::mix::Library;

/// What was read of one degraded session.
struct Read {
    leaks: [PartLeak; 5],
    measured_db: f64,
}

pub fn run(seeds: u64, pairs: bool) {
    let mut library = Library::default();
    let mut tally = Tally::default();
    for seed in 101..=100 + seeds {
        let clean = session(seed, &[], &mut library).expect("packages of the corpus");
        tally.clean(&show(seed, "clean", &clean, &clean, &mut library));
        for (n, &cause) in Cause::ALL.iter().enumerate() {
            let other = session(seed, &[cause], &mut library).expect("packages of the corpus");
            tally.one(n, &show(seed, &format!("{cause:?}"), &clean, &other, &mut library));
            for &second in Cause::ALL[n + 1..].iter().filter(|_| pairs) {
                let both = [cause, second];
                let other = session(seed, &both, &mut library).expect("packages of the corpus");
                let name = format!("{cause:?}+{second:?}");
                tally.pair(both, &show(seed, &name, &clean, &other, &mut library));
            }
        }
    }
    tally.print();
}

fn show(seed: u64, name: &str, clean: &Degraded, other: &Degraded, library: &mut Library) -> Read {
    let reference = (name != "clean").then_some(clean);
    let leaks = leaks(other, reference).expect("48 kHz");
    let without = without_causes(seed, other, library).expect("packages of the corpus");
    let measured_db = loss_db(&without, other);
    let mut line = format!("{seed:3} {name:16} measured {measured_db:5.2};");
    for (leak, kind) in leaks.iter().zip(["ceiling", "timing", "clutter", "drive", "mids"]) {
        let mark = match leak.state {
            State::Unknown => '?',
            State::Clear => ' ',
            State::Watch => '!',
            State::Leaking => '*',
        };
        line += &format!(" {kind} {:5.2}{mark}", leak.cost.map_or(f64::NAN, |cost| cost.db));
    }
    println!("{line}");
    Read { leaks, measured_db }
}

impl Read {
    fn db(&self, n: usize) -> f64 {
        self.leaks[n].cost.map_or(0.0, |cost: Cost| cost.db)
    }

    /// The leaks by their state and cost, worst first.
    fn order(&self) -> [usize; 5] {
        let mut order = [0, 1, 2, 3, 4];
        order.sort_by(|&a, &b| {
            let state = |n: usize| self.leaks[n].state;
            state(b).cmp(&state(a)).then(self.db(b).total_cmp(&self.db(a)))
        });
        order
    }
}

#[derive(Default)]
struct Tally {
    clean: (u32, u32),
    named: [(u32, u32); 5],
    errors: [Vec<f64>; 5],
    pairs: (u32, u32),
}

impl Tally {
    fn clean(&mut self, read: &Read) {
        let clear = read.leaks.iter().all(|leak| leak.state == State::Clear);
        self.clean.0 += u32::from(clear);
        self.clean.1 += 1;
    }

    fn one(&mut self, cause: usize, read: &Read) {
        self.named[cause].0 += u32::from(read.order()[0] == cause);
        self.named[cause].1 += 1;
        self.errors[cause].push((read.db(cause) - read.measured_db).abs());
    }

    fn pair(&mut self, both: [Cause; 2], read: &Read) {
        let [first, second, ..] = read.order();
        let right = both.iter().all(|cause| [first, second].contains(&(*cause as usize)));
        self.pairs.0 += u32::from(right);
        self.pairs.1 += 1;
    }

    fn print(&mut self) {
        println!("clean sessions all clear: {} of {}", self.clean.0, self.clean.1);
        let mut all = Vec::new();
        for (n, cause) in Cause::ALL.iter().enumerate() {
            let (right, of) = self.named[n];
            println!(
                "{cause:?}: dearest in {right} of {of}; median error {:.2} dB",
                median(&mut self.errors[n])
            );
            all.extend(&self.errors[n]);
        }
        println!("median error: {:.2} dB", median(&mut all));
        println!("pairs: both among the two dearest in {} of {}", self.pairs.0, self.pairs.1);
    }
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

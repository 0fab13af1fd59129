//! Single hits in silence: the onset is beyond doubt.

use crate::rendered::{RATE, meter};
use brunt_tests::corpus::ceiling::quantile;
use brunt_tests::corpus::mix::Library;
use brunt_tests::corpus::score::{Onset, score};
use brunt_tests::corpus::{kits, oneshots};

/// Every hit of every kit is found, and nothing else; its time is right to 0.5 ms.
///
/// Source: real drums of Debian's sound packages. Truth: the first sample at -30 dB of the peak of
/// the one-shot's first 50 ms, a definition that knows nothing of the engine. A few one-shots
/// start with a stick, a pedal or a swell of their own ahead of the stroke; there other honest
/// definitions lie more than 0.5 ms apart (5 % of all), so the error is counted from the interval
/// between the -30 dB and the -20 dB point, and the strict figure is printed beside it.
#[test]
fn every_hit_within_half_a_millisecond() {
    let mut library = Library::default();
    let (mut errors, mut strict, mut wrong) = (Vec::new(), Vec::new(), Vec::new());
    for kit in kits::NAMES {
        let row = oneshots::row(kit, RATE, &mut library).unwrap_or_else(|e| panic!("{e}"));
        let truth: Vec<Onset> = row
            .truth
            .iter()
            .map(|t| Onset { from_s: t.time_s, to_s: t.time_20_s.min(t.time_s + 0.005) })
            .collect();
        let times = meter(&row.audio).times();
        let result = score(&truth, &times, 0.010);
        for &t in &result.missed {
            wrong.push(format!("{kit} {}: missed", row.truth[t].instrument.name()));
        }
        for &d in &result.extra {
            wrong.push(format!("{kit}: a hit at {:.4} s that nobody played", times[d]));
        }
        for &(t, d, error) in &result.pairs {
            errors.push(error.abs() * 1e3);
            strict.push((times[d] - row.truth[t].time_s).abs() * 1e3);
            if error.abs() > 0.5e-3 {
                let name = row.truth[t].instrument.name();
                wrong.push(format!("{kit} {name} at {t} s: off by {:+.2} ms", error * 1e3));
            }
        }
    }
    println!(
        "{} hits: error median {:.2} ms, p95 {:.2}, largest {:.2}; strict -30 dB: {:.2}, {:.2}, {:.2}",
        errors.len(),
        quantile(errors.clone(), 0.5),
        quantile(errors.clone(), 0.95),
        quantile(errors.clone(), 1.0),
        quantile(strict.clone(), 0.5),
        quantile(strict.clone(), 0.95),
        quantile(strict.clone(), 1.0),
    );
    assert!(errors.len() > 250, "only {} hits were compared", errors.len());
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), errors.len(), wrong.join("\n"));
}

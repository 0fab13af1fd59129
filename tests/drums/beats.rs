//! Programmed beats, drums alone.

use crate::rendered::{GAP_S, all, meter};
use brunt_lab::corpus::ceiling::onsets;
use brunt_lab::corpus::score::{Score, score_among};

/// Tolerance, s. Ours: the default of mir_eval.onset, 50 ms, is useless for timing.
const TOLERANCE_S: f64 = 0.002;

/// F1 at +-2 ms over all beats is 0.98 or more.
///
/// Matching: one to one, as defined by mir_eval.onset. Demanded are the hits that stand 3 dB out
/// of what sounds before them (K-weighted, BS.1770-5, first 10 ms alone against the mix before); a
/// detection is false where no programmed event of any drum lies within the tolerance. Events
/// within 15 ms are one hit. The error is counted from the interval between the hit's -30 dB and
/// its -10 dB point (median 0.3 ms wide, 5 ms at most): under a ringing bed nothing quieter can be
/// heard. The figure for the -30 dB point alone is printed.
#[test]
fn programmed_beats_at_two_milliseconds() {
    let (mut sum, mut strict_sum) = (Score::default(), Score::default());
    for rendered in all() {
        let drums = rendered.mix.drum_truth();
        let any = onsets(drums.iter(), 0.0, false);
        let times = meter(&rendered.mix.buses["drums"]).times();
        let of = |strict| {
            let wanted = onsets(drums.iter().filter(|t| t.is_audible()), GAP_S, strict);
            score_among(&wanted, &any, &times, TOLERANCE_S)
        };
        let (score, strict) = (of(false), of(true));
        println!(
            "{:<16} F1 {:.3} precision {:.3} recall {:.3}; strict F1 {:.3}",
            rendered.song.name,
            score.f1(),
            score.precision(),
            score.recall(),
            strict.f1()
        );
        sum.join(score);
        strict_sum.join(strict);
    }
    println!("all F1 {:.4}, strict {:.4}, {} hits", sum.f1(), strict_sum.f1(), sum.pairs.len());
    assert!(sum.f1() >= 0.98, "F1 {:.4} at 2 ms, expected 0.98 or more", sum.f1());
}

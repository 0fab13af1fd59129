//! The beats under bass, guitars, organ and pads.

use crate::rendered::{GAP_S, all, meter};
use brunt_lab::corpus::ceiling::onsets;
use brunt_lab::corpus::score::{Score, score_among};
use brunt_lab::corpus::truth::Truth;

/// F1 of kick and snare at +-10 ms over all mixes is 0.95 or more.
///
/// Matching: one to one, as defined by mir_eval.onset; the tolerance is ours. Recall is over the
/// kicks and snares that stand 3 dB out of the mix before them (see `beats`); a detection is false
/// only where no programmed onset of any instrument lies within the tolerance, since a strum or a
/// crash is a hit as well.
#[test]
fn kick_and_snare_in_full_mixes_at_ten_milliseconds() {
    let mut sum = Score::default();
    for rendered in all() {
        let truth = &rendered.mix.truth;
        let backbone = |t: &&Truth| t.is_backbone() && t.is_audible();
        let wanted = onsets(truth.iter().filter(backbone), GAP_S, false);
        let any = onsets(truth.iter(), 0.0, false);
        let score = score_among(&wanted, &any, &meter(&rendered.mix.audio).times(), 0.010);
        println!(
            "{:<16} F1 {:.3} precision {:.3} recall {:.3}",
            rendered.song.name,
            score.f1(),
            score.precision(),
            score.recall()
        );
        sum.join(score);
    }
    println!("all F1 {:.4}, {} hits", sum.f1(), sum.pairs.len());
    assert!(sum.f1() >= 0.95, "F1 {:.4} at 10 ms, expected 0.95 or more", sum.f1());
}

//! Which passage to listen to: where most is lost, cut from hit to hit.

use crate::error::Fault;

/// Shortest and longest passage, s. Ours: shorter ones do not settle the ear, longer ones are forgotten
/// before they are compared.
pub(super) const LENGTH_S: (f64, f64) = (8.0, 20.0);
/// Length that is aimed at, s. Ours: six bars at 120 beats a minute.
const USUAL_S: f64 = 12.0;
/// How far ahead of a hit a passage begins, s. Ours: its fade ends before the hit.
const LEAD_S: f64 = 0.03;
/// Hits that a passage is taken to have at least, so that one hit with a large loss does not decide.
/// Ours.
const LEAST_HITS: usize = 12;

/// A passage, s from the mix's start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Passage {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    /// Whether options asked for it.
    pub(super) asked: bool,
}

/// What one hit loses to all causes, dB, and its time, s.
pub(super) type Loss = (f64, f64);

/// The passage that was asked for with `--from` and `--to`, or else the one that loses most a hit.
/// `hits_s`, `losses`: in order of time.
pub(super) fn choose(
    hits_s: &[f64],
    losses: &[Loss],
    duration_s: f64,
    asked: (Option<f64>, Option<f64>),
) -> Result<Passage, Fault> {
    let (least, most) = LENGTH_S;
    if let (None, None) = asked {
        return Ok(best(hits_s, losses, duration_s));
    }
    for (option, value) in [("--from", asked.0), ("--to", asked.1)] {
        match value {
            Some(value_s) if !(value_s.is_finite() && value_s >= 0.0) => {
                return Err(Fault::Time { option, value_s });
            }
            Some(value_s) if value_s > duration_s => {
                return Err(Fault::Beyond { option, value_s, duration_s });
            }
            _ => {}
        }
    }
    let (from_s, to_s) = match asked {
        (Some(from), Some(to)) => (from, to),
        (Some(from), None) => (from, (from + USUAL_S).min(duration_s)),
        (None, to) => {
            let to = to.unwrap_or(duration_s);
            ((to - USUAL_S).max(0.0), to)
        }
    };
    if from_s >= to_s {
        return Err(Fault::Order { from_s, to_s });
    }
    let length_s = to_s - from_s;
    // A hair of slack: 12.1 - 4.1 is not 8.
    let fits = (least - 1e-6..=most + 1e-6).contains(&length_s);
    if !fits && length_s < duration_s.min(least) - 1e-6 || length_s > most + 1e-6 {
        return Err(Fault::Passage { length_s, allowed_s: LENGTH_S });
    }
    Ok(Passage { from_s, to_s, asked: true })
}

fn best(hits_s: &[f64], losses: &[Loss], duration_s: f64) -> Passage {
    let (least, most) = LENGTH_S;
    let passage = |from_s, to_s| Passage { from_s, to_s, asked: false };
    if duration_s <= most {
        return passage(0.0, duration_s);
    }
    let mut found = (f64::NEG_INFINITY, passage(0.0, USUAL_S));
    for &hit in hits_s {
        let from_s = (hit - LEAD_S).max(0.0);
        if from_s + least > duration_s {
            break;
        }
        // To the last hit that is not too far, so that a loop goes on in time.
        let end = hits_s.partition_point(|&other| other - LEAD_S <= from_s + USUAL_S + 0.5);
        let to_s = match end.checked_sub(1).map(|n| hits_s[n] - LEAD_S) {
            Some(to_s) if to_s >= from_s + least => to_s,
            _ => (from_s + USUAL_S).min(duration_s),
        };
        let within = |at: f64| (from_s..to_s).contains(&at);
        let hits = hits_s.iter().filter(|at| within(**at)).count();
        let lost: f64 =
            losses.iter().filter(|(at, _)| within(*at)).map(|(_, db)| db.max(0.0)).sum();
        // Where nothing is lost, where most hits are.
        let score = lost / hits.max(LEAST_HITS) as f64 + 1e-6 * hits as f64;
        if score > found.0 {
            found = (score, passage(from_s, to_s));
        }
    }
    found.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_passage_that_loses_most_is_found_and_cut_from_hit_to_hit() {
        let hits: Vec<f64> = (0..240).map(|n| 0.5 + 0.5 * f64::from(n)).collect();
        let losses: Vec<Loss> = hits
            .iter()
            .map(|&at| (at, if (60.0..75.0).contains(&at) { 3.0 } else { 0.4 }))
            .collect();
        let found = choose(&hits, &losses, 121.0, (None, None)).expect("a passage");
        assert!(found.from_s >= 59.9 && found.to_s <= 75.1, "{found:?}");
        let length = found.to_s - found.from_s;
        assert!((8.0..=20.0).contains(&length) && (length / 0.5).fract() < 1e-6, "{length}");
        assert!(!found.asked);
        // Too short to choose: all of it.
        let all = choose(&hits[..10], &losses[..10], 6.0, (None, None)).expect("all");
        assert_eq!((all.from_s, all.to_s), (0.0, 6.0));
        // No hits, no losses: still a passage.
        let none = choose(&[], &[], 60.0, (None, None)).expect("a passage");
        assert_eq!((none.from_s, none.to_s), (0.0, 12.0));
    }

    #[test]
    fn what_is_asked_for_is_taken_or_named_as_wrong() {
        let asked = |from, to| choose(&[], &[], 100.0, (from, to));
        let taken = asked(Some(4.1), Some(12.1)).expect("8 s");
        assert_eq!((taken.from_s, taken.to_s, taken.asked), (4.1, 12.1, true));
        assert_eq!(asked(Some(50.0), None).expect("12 s").to_s, 62.0);
        assert_eq!(asked(None, Some(50.0)).expect("12 s").from_s, 38.0);
        for (from, to) in [
            (Some(1.0), Some(3.0)),
            (Some(1.0), Some(30.0)),
            (Some(30.0), Some(1.0)),
            (Some(-1.0), None),
            (Some(f64::NAN), None),
            (Some(101.0), None),
        ] {
            assert!(asked(from, to).is_err(), "{from:?} {to:?}");
        }
        // A file that is shorter than a passage is taken whole.
        assert!(choose(&[], &[], 5.0, (Some(0.0), None)).is_ok());
    }
}

//! Which onset of one part belongs to which of another.

use crate::parts::sum::median;

/// Two onsets that mean one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shared {
    /// Index of the part's onset.
    pub(crate) part: usize,
    /// Index of the reference's onset.
    pub(crate) reference: usize,
    /// Time of the reference's onset, s.
    pub(crate) time_s: f64,
    /// How much later the part's onset comes, ms.
    pub(crate) late_ms: f64,
}

/// Largest constant offset that is looked for, ms. Ours: more is heard as an echo and is a matter
/// of the arrangement or of a plug-in's latency.
const OFFSET_MOST_MS: f64 = 60.0;
/// Furthest that two onsets of one instant may lie from the constant offset, ms. Ours: three times
/// the largest spread (20 ms) that is to be read.
const APART_MOST_MS: f64 = 60.0;
/// The same as a share of the time between neighbouring notes. Ours: over a half, a stray note
/// could as well belong to the next.
const APART_SHARE: f64 = 0.55;
/// Least time from the nearest stroke of the reference from which a stroke falls into a rest of it, s.
/// Ours: half a bar at 120 beats a minute.
const REST_S: f64 = 1.0;
/// Width of the kernel with which the constant offset is looked for, ms. Ours.
const KERNEL_MS: f64 = 5.0;

/// Pairs the onsets of a part with those of a reference, both in s and in order of time: each
/// with the one nearest to the constant offset between the two, nearest pairs first, none twice.
/// Gives them in order of time, and how far apart two may have lain, ms.
///
/// This is done twice. How far apart two may lie follows from the time between notes; but a part
/// has onsets that are no notes of the rhythm, such as a string's stop, and only the notes that
/// found a partner tell its step. They tell its offset better, too, than the densest difference.
pub(crate) fn pair(part: &[f64], reference: &[f64]) -> (Vec<Shared>, f64) {
    let centre_ms = densest(&candidates(part, reference, OFFSET_MOST_MS));
    let reach_ms = APART_MOST_MS.min(APART_SHARE * 1e3 * step_s(reference));
    let first = nearest(part, reference, centre_ms, reach_ms);
    let late: Vec<f64> = first.iter().map(|pair| pair.late_ms).collect();
    let notes: Vec<f64> = first.iter().map(|pair| part[pair.part]).collect();
    let apart_ms = reach_ms.min(APART_SHARE * 1e3 * step_s(&notes));
    let centre_ms = median(&late).unwrap_or(centre_ms);
    (nearest(part, reference, centre_ms, apart_ms), apart_ms)
}

/// Pairs no further than `apart_ms` from `centre_ms`, nearest first, none twice, in order of time.
fn nearest(part: &[f64], reference: &[f64], centre_ms: f64, apart_ms: f64) -> Vec<Shared> {
    let mut pairs = candidates(part, reference, apart_ms + centre_ms.abs());
    let off = |pair: &Shared| (pair.late_ms - centre_ms).abs();
    pairs.retain(|pair| off(pair) <= apart_ms);
    pairs.sort_by(|a, b| off(a).total_cmp(&off(b)));
    let (mut used_part, mut used_reference) =
        (vec![false; part.len()], vec![false; reference.len()]);
    pairs.retain(|pair| {
        let free = !used_part[pair.part] && !used_reference[pair.reference];
        if free {
            used_part[pair.part] = true;
            used_reference[pair.reference] = true;
        }
        free
    });
    pairs.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    pairs
}

/// All pairs no further apart than `reach_ms`.
fn candidates(part: &[f64], reference: &[f64], reach_ms: f64) -> Vec<Shared> {
    let mut pairs = Vec::new();
    let mut first = 0;
    for (index, &time) in part.iter().enumerate() {
        while reference.get(first).is_some_and(|&other| (time - other) * 1e3 > reach_ms) {
            first += 1;
        }
        for (number, &other) in reference.iter().enumerate().skip(first) {
            let late_ms = (time - other) * 1e3;
            if late_ms < -reach_ms {
                break;
            }
            pairs.push(Shared { part: index, reference: number, time_s: other, late_ms });
        }
    }
    pairs
}

/// The difference at which pairs lie most densely, ms; 0 of none.
fn densest(pairs: &[Shared]) -> f64 {
    let mut late: Vec<f64> = pairs.iter().map(|pair| pair.late_ms).collect();
    late.sort_unstable_by(f64::total_cmp);
    let mut best = (0.0, 0.0);
    let reach = 4.0 * KERNEL_MS;
    let mut first = 0;
    for step in 0..=(4.0 * OFFSET_MOST_MS) as usize {
        let at = step as f64 * 0.5 - OFFSET_MOST_MS;
        while late.get(first).is_some_and(|&ms| ms < at - reach) {
            first += 1;
        }
        let density: f64 = late[first..]
            .iter()
            .take_while(|&&ms| ms <= at + reach)
            .map(|ms| (-0.5 * ((ms - at) / KERNEL_MS).powi(2)).exp())
            .sum();
        // A little pull to the middle decides between equals.
        let density = density * (1.0 - 0.002 * at.abs());
        if density > best.0 {
            best = (density, at);
        }
    }
    best.1
}

/// The time between neighbouring notes that only a tenth of them undercut, s.
pub(crate) fn step_s(times: &[f64]) -> f64 {
    let mut steps: Vec<f64> = times.windows(2).map(|two| two[1] - two[0]).collect();
    steps.sort_unstable_by(f64::total_cmp);
    steps.get(steps.len() / 10).copied().unwrap_or(f64::INFINITY)
}

/// How many strokes of a part lie no further from one of the reference than [`REST_S`], or the time
/// between neighbouring strokes of the reference that nine tenths of them keep to, if that is longer:
/// the others fall into its rests, where they can belong to none. Both in s and in order of time.
pub(crate) fn beside(part: &[f64], reference: &[f64]) -> usize {
    let mut steps: Vec<f64> = reference.windows(2).map(|two| two[1] - two[0]).collect();
    steps.sort_unstable_by(f64::total_cmp);
    let reach_s = steps.get(steps.len() * 9 / 10).copied().unwrap_or(0.0).max(REST_S);
    let near = |time: &&f64| {
        let after = reference.partition_point(|other| other < *time);
        let apart =
            |n: usize| reference.get(n).map_or(f64::INFINITY, |other| (other - *time).abs());
        apart(after).min(after.checked_sub(1).map_or(f64::INFINITY, apart)) <= reach_s
    };
    part.iter().filter(near).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times on a grid of a quarter second, the second late by 18 ms, with a note that only one
    /// plays.
    #[test]
    fn notes_pair_one_to_one_around_the_offset() {
        let reference: Vec<f64> = (0..20).map(|n| f64::from(n) * 0.25).collect();
        let mut part: Vec<f64> = reference.iter().map(|t| t + 0.018).collect();
        part.remove(4);
        part.insert(9, 2.41);
        let (pairs, _) = pair(&part, &reference);
        assert_eq!(pairs.len(), 19);
        assert!(pairs.iter().all(|p| (p.late_ms - 18.0).abs() < 1e-6));
    }

    /// A bass at a quarter second whose stops, 60 ms ahead of the next note, are found as onsets:
    /// the reach stays that of its notes, and notes 50 ms late still pair.
    #[test]
    fn stops_do_not_shorten_the_reach() {
        let reference: Vec<f64> = (0..20).map(|n| f64::from(n) * 0.25).collect();
        let late = |n: usize| if n.is_multiple_of(5) { 0.050 } else { 0.001 * (n % 3) as f64 };
        let mut part: Vec<f64> = reference.iter().enumerate().map(|(n, t)| t + late(n)).collect();
        part.extend(reference.iter().map(|t| t + 0.190));
        part.sort_by(f64::total_cmp);
        let (pairs, apart_ms) = pair(&part, &reference);
        assert_eq!(apart_ms, APART_MOST_MS);
        assert_eq!(pairs.len(), 20);
        for pair in pairs {
            assert!((pair.late_ms * 1e-3 - late(pair.reference)).abs() < 1e-9, "{pair:?}");
        }
    }

    /// By hand: eighths of a part over a reference in quarters from 10 to 20 s are 0.5 s apart; those a
    /// second ahead of it and behind it count with it, and none but these where it rests. All count with
    /// a reference that rests nowhere, however slow it is.
    #[test]
    fn strokes_in_a_rest_are_not_played_with_the_reference() {
        let part: Vec<f64> = (0..120).map(|n| 0.5 * f64::from(n)).collect();
        let every = |from: i32, to: i32, step: f64| -> Vec<f64> {
            (0..)
                .map(|n| f64::from(from) + step * f64::from(n))
                .take_while(|t| *t <= f64::from(to))
                .collect()
        };
        assert_eq!(beside(&part, &every(10, 20, 1.0)), 25);
        let twice = [every(10, 20, 1.0), every(40, 50, 1.0)].concat();
        assert_eq!(beside(&part, &twice), 50);
        for step in [0.25, 1.0, 4.0] {
            assert_eq!(beside(&part, &every(0, 60, step)), part.len(), "{step} s");
        }
        assert_eq!((beside(&[], &part), beside(&part, &[])), (0, 0));
    }

    #[test]
    fn nothing_pairs_with_nothing() {
        assert!(pair(&[], &[1.0]).0.is_empty());
        assert!(pair(&[1.0], &[]).0.is_empty());
    }
}

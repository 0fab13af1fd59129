//! A part as it would be if some of its notes came earlier or later.

/// Milliseconds before a moved onset that move with it. Ours: what of the rise lies ahead.
const AHEAD: f64 = 4.0;
/// Milliseconds behind it that move with it, unless the next note comes first. Ours: the attack.
const BEHIND: f64 = 60.0;

/// Powers with the stretch around each onset moved: `moves` holds the cell of an onset and by how
/// many cells it moves, later positive, in order of time. Between moved stretches time runs a
/// little faster or slower, so that nothing is left out and nothing sounds twice.
pub(crate) fn shifted(powers: &[f32], moves: &[(f64, f64)]) -> Vec<f32> {
    let mut knots: Vec<(f64, f64)> = Vec::with_capacity(2 * moves.len());
    for (n, &(at, by)) in moves.iter().enumerate() {
        // In the new time. A stretch ends half way to the next at the latest.
        let start = at + by;
        let end = moves.get(n + 1).map_or(f64::INFINITY, |next| next.0 + next.1 - AHEAD);
        knots.push((start - AHEAD, by));
        knots.push(((start + BEHIND).min(0.5 * (start + end)).max(start - AHEAD), by));
    }
    // Notes that overtake each other are in no order; the later of two then gives way.
    let mut next = 0;
    (0..powers.len())
        .map(|cell| {
            let time = cell as f64;
            while next < knots.len() && knots[next].0 <= time {
                next += 1;
            }
            let by = match (next.checked_sub(1).map(|n| knots[n]), knots.get(next)) {
                (Some((from, a)), Some(&(to, b))) if to > from => {
                    a + (b - a) * (time - from) / (to - from)
                }
                (Some((_, a)), _) => a,
                (None, Some(&(to, b))) => {
                    // Ahead of the first moved note time bends within the last 100 ms.
                    b * ((time - to + 100.0) / 100.0).clamp(0.0, 1.0)
                }
                (None, None) => 0.0,
            };
            at(powers, time - by)
        })
        .collect()
}

/// Power at a place between two cells.
fn at(powers: &[f32], place: f64) -> f32 {
    let get = |n: usize| powers.get(n).copied().unwrap_or(0.0);
    if place < 0.0 {
        return if place > -1.0 { get(0) * (place + 1.0) as f32 } else { 0.0 };
    }
    // The whole part, since the place is no less than zero.
    let low = place as usize;
    let share = (place - low as f64) as f32;
    get(low) * (1.0 - share) + get(low + 1) * share
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moved_note_keeps_its_shape() {
        let mut powers = vec![0.0f32; 400];
        for n in 0..100 {
            powers[200 + n] = (-(n as f32) / 20.0).exp();
        }
        for by in [-12.0, 7.0] {
            let moved = shifted(&powers, &[(200.0, by)]);
            for n in 0..50 {
                let to = (200.0 + by) as usize + n;
                assert!((moved[to] - powers[200 + n]).abs() < 1e-6, "{by} {n}");
            }
            assert_eq!(moved[(199.0 + by) as usize], 0.0);
        }
    }
}

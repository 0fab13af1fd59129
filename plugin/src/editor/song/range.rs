//! Which part of the song is in the picture.

use crate::display::Display;
use crate::kept::KeptPass;

/// Shortest stretch in the picture, s: a few bars.
const SHORTEST_S: f64 = 5.0;

/// Length of the whole, s: the longer of what was measured and the kept pass.
#[must_use]
pub fn whole(display: &Display, kept: Option<&KeptPass>) -> f64 {
    let kept_s = kept.map_or(0.0, |kept| kept.time_s);
    display.readings.time_s.max(kept_s).max(SHORTEST_S)
}

/// The stretch in the picture, s: what was asked for, kept inside the whole.
#[must_use]
pub fn shown(asked: Option<(f64, f64)>, whole_s: f64) -> (f64, f64) {
    let Some((from, to)) = asked else { return (0.0, whole_s) };
    let length = (to - from).clamp(SHORTEST_S, whole_s);
    let from = from.clamp(0.0, whole_s - length);
    (from, from + length)
}

/// The stretch `times` as long, with what lies at `at_s` staying in its place; `None` once it holds
/// the whole.
#[must_use]
pub fn zoomed(now: (f64, f64), at_s: f64, times: f64, whole_s: f64) -> Option<(f64, f64)> {
    let length = now.1 - now.0;
    let new = (length * times).max(SHORTEST_S.min(whole_s));
    if new >= whole_s {
        return None;
    }
    let share = ((at_s - now.0) / length).clamp(0.0, 1.0);
    let from = at_s - share * new;
    Some(shown(Some((from, from + new)), whole_s))
}

/// The stretch moved by `by_s`.
#[must_use]
pub fn moved(now: (f64, f64), by_s: f64, whole_s: f64) -> (f64, f64) {
    shown(Some((now.0 + by_s, now.1 + by_s)), whole_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zooming_keeps_the_place_and_ends_at_the_whole() {
        let near = zoomed((0.0, 100.0), 25.0, 0.5, 100.0).expect("a part");
        assert_eq!(near, (12.5, 62.5));
        assert_eq!(zoomed(near, 25.0, 4.0, 100.0), None);
        let least = zoomed((10.0, 16.0), 12.0, 0.01, 100.0).expect("a part");
        assert!((least.1 - least.0 - SHORTEST_S).abs() < 1e-9);
    }

    #[test]
    fn moving_stops_at_the_ends() {
        assert_eq!(moved((10.0, 30.0), -50.0, 100.0), (0.0, 20.0));
        assert_eq!(moved((10.0, 30.0), 500.0, 100.0), (80.0, 100.0));
    }
}

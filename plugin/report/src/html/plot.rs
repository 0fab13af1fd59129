//! What the pictures share: a frame that stretches to its width, and axes with round numbers.

use maud::{Markup, html};

/// Width of a picture in its own units. The browser stretches it to the width there is.
pub(super) const WIDTH: f64 = 1000.0;

/// Most marks on one axis: more could not be told apart, and none may take all memory.
const MOST_MARKS: usize = 1000;

/// A plain coordinate: two decimals are a fiftieth of a pixel.
pub(super) fn xy(x: f64) -> String {
    let text = format!("{x:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// An axis from `low` to `high` across `length` units, the low end at `length` when `up`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Axis {
    pub low: f64,
    pub high: f64,
    pub length: f64,
    pub up: bool,
}

impl Axis {
    /// Place of a value, kept within the axis.
    pub(super) fn at(&self, x: f64) -> f64 {
        let share = ((x - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.length * if self.up { 1.0 - share } else { share }
    }

    /// The same as a percentage of the length.
    pub(super) fn percent(&self, x: f64) -> String {
        format!("{}%", xy(100.0 * self.at(x) / self.length))
    }

    /// Multiples of `step` within the axis, at most [`MOST_MARKS`].
    pub(super) fn multiples(&self, step: f64) -> Vec<f64> {
        let (first, last) = ((self.low / step).ceil() as i64, (self.high / step).floor() as i64);
        (first..=last).take(MOST_MARKS).map(|k| k as f64 * step).collect()
    }
}

/// The first of the `steps` that cuts `span` into at most `most` pieces; the last where none does.
pub(super) fn step(span: f64, most: f64, steps: &[f64]) -> f64 {
    let fits = |step: &&f64| span / **step <= most;
    steps.iter().find(fits).or(steps.last()).copied().unwrap_or(span)
}

/// A value that only one in fifty lies over: a picture whose scale ends there is not flattened by
/// one odd value. `None` without any.
pub(super) fn usual_most(values: &[f64]) -> Option<f64> {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values.get(values.len().saturating_sub(1 + values.len() / 50)).copied()
}

/// Steps of a time axis, s.
pub(super) const TIME_STEPS: [f64; 15] = [
    1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0, 3600.0,
];

/// A line through the known values of a column, broken where one is not known.
pub(super) fn line(values: &[Option<f64>], x: impl Fn(usize) -> f64, y: Axis) -> String {
    let mut path = String::new();
    let mut open = false;
    for (k, value) in values.iter().enumerate() {
        match value {
            Some(value) => {
                let command = if open { 'L' } else { 'M' };
                path.push_str(&format!("{command}{} {}", xy(x(k)), xy(y.at(*value))));
                // A lone point is a short line, or it would not be seen.
                if !open && values.get(k + 1).is_none_or(Option::is_none) {
                    path.push_str("h1");
                }
                open = true;
            }
            None => open = false,
        }
    }
    path
}

/// Frame of a stretched picture: `height` units tall and as wide as its place.
pub(super) fn frame(name: &str, height: f64, body: Markup) -> Markup {
    html! {
        svg.plot role="img" aria-label=(name) preserveAspectRatio="none"
            viewBox={ "0 0 " (xy(WIDTH)) " " (xy(height)) } { (body) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_keeps_its_ends_and_its_direction() {
        let up = Axis { low: -6.0, high: 18.0, length: 48.0, up: true };
        assert_eq!((up.at(-6.0), up.at(18.0), up.at(99.0)), (48.0, 0.0, 0.0));
        assert_eq!(up.multiples(6.0), [-6.0, 0.0, 6.0, 12.0, 18.0]);
        assert_eq!(up.percent(6.0), "50%");
    }

    #[test]
    fn a_line_breaks_where_nothing_is_known() {
        let y = Axis { low: 0.0, high: 10.0, length: 10.0, up: true };
        let values = [Some(1.0), Some(2.0), None, Some(3.0)];
        assert_eq!(line(&values, |k| k as f64, y), "M0 9L1 8M3 7h1");
    }

    #[test]
    fn an_axis_of_times_has_steps_that_fit() {
        assert_eq!(step(240.0, 12.0, &TIME_STEPS), 20.0);
    }
}

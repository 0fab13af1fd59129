//! Numbers on the page: as a person reads them, with the whole number and its place beside.

use maud::{Markup, html};

use crate::words::{UNKNOWN, signed, value};

/// A number of the report: its place in the JSON (a JSON pointer, RFC 6901), itself, its unit.
pub(super) fn number(place: &str, x: Option<f64>, unit: &str) -> Markup {
    data(place, x, &minus(&value(x, unit)))
}

/// The same with a sign, for differences.
pub(super) fn difference(place: &str, x: Option<f64>, unit: &str) -> Markup {
    data(place, x, &minus(&signed(x, unit)))
}

/// A number that is shown as `text`; where it is not known, that.
pub(super) fn data(place: &str, x: Option<f64>, text: &str) -> Markup {
    match x.filter(|x| x.is_finite()) {
        Some(x) => html! { data value=(x) data-json=(place) { (text) } },
        None => html! { span.unknown data-json=(place) { (UNKNOWN) } },
    }
}

/// A count of the report.
pub(super) fn counted(place: &str, n: u64, text: &str) -> Markup {
    html! { data value=(n) data-json=(place) { (text) } }
}

/// Units that stay on the line of their number.
const UNITS: [&str; 8] = ["dB", "dBTP", "dBFS", "LUFS", "LU", "s", "ms", "Hz"];

/// Text with a true minus sign before its numbers, and its units held to them.
pub(super) fn minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        let digit = letters.peek().is_some_and(char::is_ascii_digit);
        let starts = !before.is_alphanumeric();
        out.push(if letter == '-' && digit && starts { '\u{2212}' } else { letter });
        before = letter;
    }
    units(&out)
}

/// Text whose units do not leave their numbers at the end of a line.
pub(super) fn units(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        out.push_str(word);
        let Some(next) = words.peek() else { break };
        let unit = next.trim_end_matches(|c: char| !c.is_alphanumeric());
        let number = word.ends_with(|c: char| c.is_ascii_digit());
        out.push(if number && UNITS.contains(&unit) { '\u{a0}' } else { ' ' });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minus_stands_before_numbers_only() {
        assert_eq!(
            minus("-0.9 dBTP, 4-5 hits, side-chain"),
            "\u{2212}0.9\u{a0}dBTP, 4-5 hits, side-chain"
        );
    }

    #[test]
    fn names_cannot_leave_their_place() {
        let text = data("/a\"b", Some(1.0), "<b>").into_string();
        assert_eq!(text, "<data value=\"1\" data-json=\"/a&quot;b\">&lt;b&gt;</data>");
    }
}

//! Low, mid and high against the long-term curve.

use maud::{Markup, html};

use super::number::difference;
use super::plot::{Axis, WIDTH, xy};
use super::section;
use crate::report::Report;
use crate::words::{Term, page as say, term_label, term_unit};

/// Both ends of the scale, dB: further out, the number alone tells.
const MOST_DB: f64 = 12.0;
/// Height of a bar.
const HEIGHT: f64 = 14.0;

pub(super) fn render(report: &Report) -> Markup {
    let b = &report.balance;
    let rows = [
        (Term::Low, "low_db", b.low_db),
        (Term::Mid, "mid_db", b.mid_db),
        (Term::High, "high_db", b.high_db),
    ];
    if rows.iter().all(|(_, _, x)| x.is_none()) {
        return html! {};
    }
    section(
        "balance",
        say::BALANCE,
        html! {
            @for (term, field, x) in rows {
                div.band-row {
                    span.label { (term_label(term)) }
                    (bar(term, x))
                    span.value { (difference(&format!("/balance/{field}"), x, term_unit(term))) }
                }
            }
            div.band-row {
                span.label { (term_label(Term::MidDeficit)) }
                span {}
                span.value {
                    (difference("/balance/mid_deficit_db", b.mid_deficit_db, term_unit(Term::MidDeficit)))
                }
            }
            p.caption { (say::BALANCE_CAPTION) }
        },
    )
}

/// A bar from the middle: to the right for more than the curve, to the left for less.
fn bar(term: Term, x: Option<f64>) -> Markup {
    let axis = Axis { low: -MOST_DB, high: MOST_DB, length: WIDTH, up: false };
    let (zero, end) = (axis.at(0.0), axis.at(x.unwrap_or(0.0)));
    let grid: String = axis
        .multiples(6.0)
        .iter()
        .map(|v| format!("M{} 0V{}", xy(axis.at(*v)), xy(HEIGHT)))
        .collect();
    super::plot::frame(
        term_label(term),
        HEIGHT,
        html! {
            path.grid d=(grid) {}
            rect.(if end < zero { "fill" } else { "stem" }) x=(xy(zero.min(end))) y="3"
                width=(xy((end - zero).abs())) height=(xy(HEIGHT - 6.0)) {}
            path.axis d={ "M" (xy(zero)) " 0V" (xy(HEIGHT)) } {}
        },
    )
}

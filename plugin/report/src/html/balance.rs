//! Low, mid and high against the long-term curve.

use maud::{Markup, html};

use super::number::{difference, minus};
use super::piece::section;
use super::plot::{Axis, WIDTH, xy};
use crate::report::Report;
use crate::words::{Term, page as say, term_label, term_unit};

/// Both ends of the scale, dB: further out, the number alone tells.
const MOST_DB: f64 = 12.0;
/// Height of the third octaves.
const THIRDS_HEIGHT: f64 = 90.0;
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
            (thirds(report))
        },
    )
}

/// The third octaves as stems from the curve, up for more and down for less.
fn thirds(report: &Report) -> Markup {
    let thirds = &report.balance.thirds;
    if thirds.iter().all(|third| third.over_curve_db.is_none()) {
        return html! {};
    }
    let y = Axis { low: -MOST_DB, high: MOST_DB, length: THIRDS_HEIGHT, up: true };
    let step = WIDTH / thirds.len() as f64;
    let middle = |k: usize| (k as f64 + 0.5) * step;
    let grid: String =
        y.multiples(6.0).iter().map(|v| format!("M0 {}H{}", xy(y.at(*v)), xy(WIDTH))).collect();
    html! {
        div.frame.thirds {
            div.y style={ "--tall:" (xy(THIRDS_HEIGHT)) } {
                @for v in y.multiples(MOST_DB) {
                    span style={ "top:" (y.percent(v)) } { (minus(&signed(v))) }
                }
            }
            div.view style={ "--tall:" (xy(THIRDS_HEIGHT)) } {
                (super::plot::frame(say::THIRDS, THIRDS_HEIGHT, html! {
                    path.grid d=(grid) {}
                    @for (k, third) in thirds.iter().enumerate() {
                        @let over = third.over_curve_db.unwrap_or(0.0);
                        @let top = y.at(over.max(0.0));
                        g data-json={ "/balance/thirds/" (k) } {
                            title { (say::third(third.hz, third.over_curve_db, third.level_dbfs)) }
                            rect.(if over < 0.0 { "fill" } else { "stem" })
                                x=(xy(middle(k) - step * 0.3)) y=(xy(top)) width=(xy(step * 0.6))
                                height=(xy(y.at(over.min(0.0)) - top)) {}
                        }
                    }
                    path.axis d={ "M0 " (xy(y.at(0.0))) "H" (xy(WIDTH)) } {}
                }))
            }
        }
        div.frame.times {
            div.y {}
            div.view {
                @for (k, third) in thirds.iter().enumerate().filter(|(k, _)| k % 6 == 3) {
                    span style={ "left:" (xy(middle(k) / WIDTH * 100.0)) "%" } {
                        (say::frequency(third.hz))
                    }
                }
            }
        }
        p.caption { (say::THIRDS_CAPTION) }
    }
}

/// A whole number of decibels with its sign.
fn signed(db: f64) -> String {
    if db == 0.0 { "0".to_owned() } else { format!("{db:+.0}") }
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

//! The five leaks: state, cost with its range, evidence, advice.

use brunt_engine::{LeakKind, State, Thresholds};
use maud::{Markup, html};

use super::number::{minus, number, units};
use super::piece::section;
use super::plot::{Axis, WIDTH, xy};
use super::sign;
use crate::report::{Headline, Report};
use crate::words::{self, page as say};

/// Height of a bar and its range, in the picture's units.
const HEIGHT: f64 = 16.0;
/// Bottom of the bar itself.
const BAR: f64 = 9.0;
/// Least upper end of the scale, dB. Ours: twice the default limit of leaking, as in the editor.
const MIN_TOP_DB: f64 = 4.0;

pub(super) fn render(report: &Report) -> Markup {
    let limits = limits(report);
    let highs = LeakKind::ALL.into_iter().filter_map(|kind| report.headline(kind).high_db);
    let highest = highs.fold(limits.leaking_db + 1.0, f64::max);
    let high = (highest.max(MIN_TOP_DB) / 2.0).ceil() * 2.0;
    let axis = Axis { low: 0.0, high, length: WIDTH, up: false };
    section(
        "leaks",
        say::LEAKS,
        html! {
            p.caption { (units(&say::leaks_intro(limits.watch_db, limits.leaking_db))) }
            @for kind in LeakKind::ALL { (row(kind, report, axis, limits)) }
        },
    )
}

/// The limits that the report was made with.
pub(super) fn limits(report: &Report) -> Thresholds {
    report.made.as_ref().map_or(Thresholds::default(), |made| Thresholds {
        watch_db: made.watch_db,
        leaking_db: made.leaking_db,
    })
}

fn row(kind: LeakKind, report: &Report, axis: Axis, limits: Thresholds) -> Markup {
    let (leak, cost) = (report.leak(kind), report.headline(kind));
    let [db, low_db, high_db] = cost.fields;
    let place = |name: &str| format!("/leaks/{}/{name}", words::leak_code(kind));
    let word = words::state_word(leak.state);
    let small = report.leaks.small_speakers_db(kind);
    html! {
        article.leak.(word) {
            h3 {
                (sign::state(leak.state))
                span.name { (words::leak_name(kind)) }
                span.state { (word) }
                span.meaning { (words::leak_meaning(kind)) }
            }
            @if cost.db.is_some() {
                p.cost {
                    @if small.is_some() {
                        (number(&place("carry_db"), small, "dB")) " " (words::ON_SMALL_SPEAKERS)
                    } @else {
                        (number(&place(db), cost.db, "dB"))
                    }
                }
                div.bar {
                    (bar(kind, cost, axis, limits))
                    @if leak.state != State::Unknown {
                        p.range {
                            @if small.is_some() {
                                (say::HITS_COST) " " (number(&place(db), cost.db, "dB")) ", "
                            }
                            (say::RANGE) " "
                            (number(&place(low_db), cost.low_db, ""))
                            " to "
                            (number(&place(high_db), cost.high_db, "dB"))
                        }
                    }
                }
            }
            p.says { (minus(&leak.says)) }
            p.do { strong { (say::TRY) ": " } (minus(&leak.advice)) }
        }
    }
}

fn bar(kind: LeakKind, shown: Headline, axis: Axis, limits: Thresholds) -> Markup {
    let cost = axis.at(shown.db.unwrap_or(0.0));
    let ends = shown.low_db.zip(shown.high_db);
    let name = format!("{}: {}", words::leak_name(kind), words::value(shown.db, "dB"));
    html! {
        svg.plot role="img" aria-label=(name) preserveAspectRatio="none"
            viewBox={ "0 0 " (xy(WIDTH)) " " (xy(HEIGHT)) } {
            rect.band width=(xy(WIDTH)) height=(xy(BAR)) {}
            rect.fill width=(xy(cost)) height=(xy(BAR)) {}
            @for limit in [limits.watch_db, limits.leaking_db] {
                path.limit d={ "M" (xy(axis.at(limit))) " 0v" (xy(BAR)) } {}
            }
            @if let Some((low, high)) = ends {
                path.whisker d={
                    "M" (xy(axis.at(low))) " " (xy(BAR + 2.0)) "v5M" (xy(axis.at(low))) " "
                    (xy(BAR + 4.5)) "H" (xy(axis.at(high))) "M" (xy(axis.at(high))) " "
                    (xy(BAR + 2.0)) "v5"
                } {}
            }
        }
    }
}

//! The whole song at a glance: loudness, hit contrast, and the cost of each leak that was judged.

use brunt_engine::LeakKind;
use maud::{Markup, html};

use super::number::{number, units};
use super::piece::section;
use super::plot::{Axis, TIME_STEPS, WIDTH, frame, line, step, usual_most, xy};
use crate::report::{HistoryReport, PART_LEAKS, Report};
use crate::sections::{Section, told};
use crate::words::{Term, clock, page as say, term_label, term_unit};

/// Height of a track, in the picture's units.
const HEIGHT: f64 = 72.0;
/// Height of a leak's track.
const LOW_HEIGHT: f64 = 40.0;
/// Most loudness in the picture, LU under its loudest point: what is lower is a pause.
const DEPTH_LU: f64 = 24.0;

pub(super) fn render(report: &Report) -> Markup {
    let Some(history) = report.history.as_ref().filter(|history| !history.is_empty()) else {
        return html! {};
    };
    let end_s = history.from_s + history.step_s * history.len() as f64;
    let x = Axis { low: history.from_s, high: end_s, length: WIDTH, up: false };
    let sections = told(&report.sections);
    let borders = sections.iter().skip(1).map(|section| section.from_s).collect();
    let song = &Song { history, x, borders };
    let limits = super::leaks::limits(report);
    let costs: Vec<(LeakKind, &[Option<f64>])> =
        LeakKind::ALL.into_iter().filter_map(|k| Some((k, history.costs_db.get(k)?))).collect();
    let parts = costs.iter().any(|(kind, _)| PART_LEAKS.contains(kind));
    let most = costs.iter().filter_map(|(_, c)| largest(c)).fold(limits.leaking_db, f64::max);
    let costs_y = Axis { low: 0.0, high: (most / 2.0).ceil() * 2.0, length: LOW_HEIGHT, up: true };
    section(
        "history",
        say::HISTORY,
        html! {
            (track(
                term_label(Term::ShortTerm), term_unit(Term::ShortTerm), song,
                loudness_axis(&history.short_term_lufs),
                &history.short_term_lufs, Look::Line, report.loudness.integrated_lufs,
            ))
            (track(
                term_label(Term::Contrast), term_unit(Term::Contrast), song,
                contrast_axis(&history.contrast_db),
                &history.contrast_db, Look::Line, report.punch.contrast_db,
            ))
            @for (kind, values) in costs {
                (track(
                    &say::cost_of(kind), term_unit(Term::Cost), song, costs_y, values,
                    Look::Area, Some(limits.leaking_db),
                ))
            }
            (times(x))
            p.caption { (units(&say::history_caption(history.step_s, parts))) }
            @if !sections.is_empty() { (table(sections)) }
        },
    )
}

/// What the tracks have in common.
struct Song<'a> {
    history: &'a HistoryReport,
    x: Axis,
    /// Where sections begin, but for the first, s.
    borders: Vec<f64>,
}

/// Each section with its loudness and contrast.
fn table(sections: &[Section]) -> Markup {
    let place = |k: usize, field: &str| format!("/sections/{k}/{field}");
    let unit = |term: Term| html! { span.unit { (term_unit(term)) } };
    html! {
        table.sections {
            thead { tr {
                th scope="col" { (say::SECTION) }
                th scope="col" { (say::SECTION_TIME) }
                th scope="col" { (say::SECTION_LOUDNESS) " " (unit(Term::ShortTerm)) }
                th scope="col" { (term_label(Term::Contrast)) " " (unit(Term::Contrast)) }
            } }
            tbody {
                @for (k, section) in sections.iter().enumerate() {
                    tr {
                        th scope="row" { (k + 1) }
                        td { (clock(section.from_s)) "\u{2013}" (clock(section.to_s)) }
                        td.value { (number(&place(k, "loudness_lufs"), section.loudness_lufs, "")) }
                        td.value { (number(&place(k, "contrast_db"), section.contrast_db, "")) }
                    }
                }
            }
        }
        p.caption { (say::SECTIONS_CAPTION) }
    }
}

/// How the values of a track are drawn.
#[derive(Clone, Copy, PartialEq)]
enum Look {
    /// Punch that is there.
    Line,
    /// Punch that is lost.
    Area,
}

fn track(
    name: &str,
    unit: &str,
    song: &Song<'_>,
    y: Axis,
    values: &[Option<f64>],
    look: Look,
    mark: Option<f64>,
) -> Markup {
    let Song { history, x, borders } = song;
    let x = *x;
    let at = |k: usize| x.at(history.from_s + (k as f64 + 0.5) * history.step_s);
    let steps = [1.0, 2.0, 3.0, 6.0, 12.0, 24.0];
    let across: Vec<f64> = y.multiples(step(y.high - y.low, y.length / 18.0, &steps));
    let grid: String =
        across.iter().map(|v| format!("M0 {}H{}", xy(y.at(*v)), xy(WIDTH))).collect();
    let down: String = x
        .multiples(time_step(x))
        .iter()
        .map(|s| format!("M{} 0V{}", xy(x.at(*s)), xy(y.length)))
        .collect();
    let borders: String =
        borders.iter().map(|s| format!("M{} 0V{}", xy(x.at(*s)), xy(y.length))).collect();
    html! {
        figure.track {
            figcaption { (name) span.unit { (unit) } }
            div.frame {
                div.y style={ "--tall:" (xy(y.length)) } {
                    @for v in &across {
                        span style={ "top:" (y.percent(*v)) } { (format!("{v:.0}").replace('-', "\u{2212}")) }
                    }
                }
                div.view style={ "--tall:" (xy(y.length)) } {
                    (frame(name, y.length, html! {
                        path.grid d=(grid) {}
                        path.grid d=(down) {}
                        @if !borders.is_empty() { path.border d=(borders) {} }
                        @match look {
                            Look::Line => path.line d=(line(values, at, y)) {},
                            Look::Area => path.area d=(area(values, at, y)) {},
                        }
                        @if let Some(mark) = mark.filter(|m| (y.low..=y.high).contains(m)) {
                            path.median d={ "M0 " (xy(y.at(mark))) "H" (xy(WIDTH)) } {}
                        }
                    }))
                }
            }
        }
    }
}

/// The known stretches of a column as closed shapes over the ground.
fn area(values: &[Option<f64>], x: impl Fn(usize) -> f64, y: Axis) -> String {
    let mut path = String::new();
    let known: Vec<usize> = (0..values.len()).filter(|k| values[*k].is_some()).collect();
    for run in known.chunk_by(|a, b| a + 1 == *b) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        path.push_str(&format!("M{} {}", xy(x(*first)), xy(y.length)));
        for k in run {
            path.push_str(&format!("L{} {}", xy(x(*k)), xy(y.at(values[*k].unwrap_or(0.0)))));
        }
        path.push_str(&format!("L{} {}Z", xy(x(*last)), xy(y.length)));
    }
    path
}

/// Times under the tracks.
fn times(x: Axis) -> Markup {
    html! {
        div.frame.times {
            div.y {}
            div.view {
                @for s in x.multiples(time_step(x)) {
                    span style={ "left:" (x.percent(s)) } { (clock(s)) }
                }
            }
        }
    }
}

fn time_step(x: Axis) -> f64 {
    step(x.high - x.low, 8.0, &TIME_STEPS)
}

fn loudness_axis(values: &[Option<f64>]) -> Axis {
    let high = (largest(values).unwrap_or(0.0) / 3.0).ceil() * 3.0;
    let low = smallest(values).unwrap_or(high - 6.0).max(high - DEPTH_LU);
    Axis { low: ((low / 3.0).floor() * 3.0).min(high - 6.0), high, length: HEIGHT, up: true }
}

fn contrast_axis(values: &[Option<f64>]) -> Axis {
    let known: Vec<f64> = values.iter().flatten().copied().collect();
    let high = (usual_most(&known).unwrap_or(0.0) / 3.0).ceil() * 3.0;
    Axis { low: 0.0, high: high.max(9.0), length: HEIGHT, up: true }
}

fn largest(values: &[Option<f64>]) -> Option<f64> {
    values.iter().flatten().copied().max_by(f64::total_cmp)
}

fn smallest(values: &[Option<f64>]) -> Option<f64> {
    values.iter().flatten().copied().min_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_area_stands_on_its_ground_and_leaves_gaps_open() {
        let y = Axis { low: 0.0, high: 2.0, length: 40.0, up: true };
        let values = [None, Some(1.0), Some(2.0), None, Some(1.0)];
        let path = area(&values, |k| k as f64, y);
        assert_eq!(path, "M1 40L1 20L2 0L2 40ZM4 40L4 20L4 40Z");
    }
}

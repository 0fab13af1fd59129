//! The shape of a hit as a row of strokes, one a moment: a solid stem for what is left, a hollow cap
//! for what the other version has more, a notch for how far it goes where it has less. Under it
//! the hits' spectrum over their surroundings.

use maud::{Markup, html};

use super::number::{counted, minus, number};
use super::piece::section;
use super::plot::{Axis, WIDTH, frame, xy};
use crate::report::{Report, ShapeReport, SpectrumReport};
use crate::words::{page, shape as say, signed};
use brunt_engine::thresholds::HIT_CONTRAST_DB;

/// Height of the picture of the shape.
const HEIGHT: f64 = 190.0;
/// Height of that of the spectrum.
const SPECTRUM_HEIGHT: f64 = 90.0;
/// Lower end of the scale, dB.
const LOW_DB: f64 = -6.0;
/// Least upper end, dB.
const LEAST_TOP_DB: f64 = 12.0;
/// Distance of the lines across, dB.
const LINE_DB: f64 = 6.0;
/// Difference that is too small to be drawn, dB, as in the editor.
const LEAST_DB: f64 = 0.3;
/// Moments under the picture, ms.
const LABELS_MS: [f64; 9] = [-50.0, -10.0, 0.0, 10.0, 20.0, 30.0, 60.0, 100.0, 200.0];

pub(super) fn render(report: &Report) -> Markup {
    let Some(shape) = report.punch.shape.as_ref().filter(|shape| shape.points() > 0) else {
        return html! {};
    };
    let other = report.compare.as_ref().and_then(|compare| {
        let before = compare.role == crate::words::role_word(brunt_engine::SideRole::Before);
        let shape = compare.shape.as_ref().filter(|other| other.points() == shape.points())?;
        Some((shape, before))
    });
    section(
        "shape",
        say::TITLE,
        html! {
            (legend(other.map(|(_, before)| before)))
            (picture(shape, other.map(|(shape, _)| shape)))
            p.caption { (say::TIP) }
            (numbers("/punch/shape", shape, other, true))
            @for (k, drum) in report.punch.shape_by_drum.iter().enumerate() {
                h3 { (say::at_drum(&drum.drum)) }
                (picture(&drum.shape, None))
                (numbers(&format!("/punch/shape_by_drum/{k}/shape"), &drum.shape, None, false))
            }
            @if let Some(spectrum) = &report.punch.spectrum { (bands(spectrum)) }
        },
    )
}

fn legend(other: Option<bool>) -> Markup {
    html! {
        ul.legend {
            li { svg viewBox="0 0 10 16" aria-hidden="true" { rect.stem x="2" y="1" width="6" height="14" {} } (say::THIS) }
            @if let Some(before) = other {
                li {
                    svg viewBox="0 0 10 16" aria-hidden="true" { rect.cap x="2.5" y="1.5" width="5" height="13" {} }
                    (if before { say::TAKEN } else { say::REFERENCE_MORE })
                }
            }
            li { svg viewBox="0 0 22 16" aria-hidden="true" { path.peak d="M0 8h22" {} } (say::PEAK) }
            li { svg viewBox="0 0 14 16" aria-hidden="true" { rect.band x="0" y="1" width="14" height="14" {} } (say::RANGE) }
        }
    }
}

fn picture(shape: &ShapeReport, other: Option<&ShapeReport>) -> Markup {
    let points = shape.points();
    let step = WIDTH / points as f64;
    let left = |point: usize| point as f64 * step;
    let all = [Some(shape), other];
    let lists = all.iter().flatten().flat_map(|shape| [&shape.peak_db, &shape.high_db]);
    let most = lists.flatten().flatten().copied().fold(LEAST_TOP_DB - 1.0, f64::max).min(90.0);
    let high = ((most + 1.0) / LINE_DB).ceil() * LINE_DB;
    let y = Axis { low: LOW_DB, high, length: HEIGHT, up: true };
    let across: String = y
        .multiples(LINE_DB)
        .iter()
        .map(|db| format!("M0 {}H{}", xy(y.at(*db)), xy(WIDTH)))
        .collect();
    let onset = shape.times_ms.iter().take(points).position(|ms| *ms == 0.0);
    let spoken = say::spoken(say::THIS, shape);
    let place = |ms: f64| {
        let point = shape.times_ms.iter().take(points).position(|at| *at == ms)?;
        // The onset lies between its point and the next.
        Some(left(point) + if ms == 0.0 { step } else { step / 2.0 })
    };
    html! {
        div.frame {
            div.y style={ "--tall:" (xy(HEIGHT)) } {
                @for db in y.multiples(LINE_DB).into_iter().filter(|db| *db >= 0.0) {
                    span style={ "top:" (y.percent(db)) } { (format!("{db:.0}")) }
                }
            }
            div.view style={ "--tall:" (xy(HEIGHT)) } {
                (frame(&spoken, HEIGHT, html! {
                    @for point in 0..points {
                        @if let (Some(low), Some(high)) = (shape.low_db[point], shape.high_db[point]) {
                            rect.band x=(xy(left(point))) width=(xy(step))
                                y=(xy(y.at(high))) height=(xy(y.at(low) - y.at(high))) {}
                        }
                    }
                    path.grid d=(across) {}
                    path.axis d={ "M0 " (xy(y.at(0.0))) "H" (xy(WIDTH)) } {}
                    @if let Some(onset) = onset {
                        path.axis d={ "M" (xy(left(onset) + step)) " 0V" (xy(HEIGHT)) } {}
                    }
                    @for point in 0..points { (stroke(shape, other, point, left(point), step, y)) }
                    @if let Some(other) = other { path.other-peak d=(steps(&other.peak_db[..points], step, y)) {} }
                    path.peak d=(steps(&shape.peak_db[..points], step, y)) {}
                }))
            }
        }
        div.frame.times {
            div.y {}
            div.view {
                @for ms in LABELS_MS {
                    @if let Some(x) = place(ms) {
                        span style={ "left:" (xy(x / WIDTH * 100.0)) "%" } {
                            (minus(&format!("{ms:.0}"))) @if ms == 200.0 { " " (say::MS) }
                        }
                    }
                }
            }
        }
    }
}

/// One moment.
fn stroke(
    shape: &ShapeReport,
    other: Option<&ShapeReport>,
    point: usize,
    left: f64,
    step: f64,
    y: Axis,
) -> Markup {
    let Some(level) = shape.level_db[point] else { return html! {} };
    let (x, width) = (left + step * 0.16, step * 0.68);
    let top = y.at(level).min(HEIGHT - 1.0);
    let then = other.and_then(|other| other.level_db[point]);
    let there = then.map(|then| y.at(then));
    let said = say::levels(say::THIS, Some(level), shape.peak_db[point]);
    let ms = say::moment(shape.times_ms[point]);
    html! {
        g {
            title { (minus(&format!("{ms}. {said}"))) }
            rect.stem x=(xy(x)) y=(xy(top)) width=(xy(width)) height=(xy(HEIGHT - top)) {}
            @if let (Some(then), Some(there)) = (then, there) {
                @if then - level >= LEAST_DB {
                    rect.cap x=(xy(x)) y=(xy(there.min(top - 3.0))) width=(xy(width))
                        height=(xy((top - 1.0 - there.min(top - 3.0)).max(1.0))) {}
                } @else if level - then >= LEAST_DB {
                    rect.fill x=(xy(x)) y=(xy(there.min(HEIGHT - 2.0))) width=(xy(width)) height="1.5" {}
                }
            }
        }
    }
}

/// A line of steps through the known values, broken where one is not known.
fn steps(values: &[Option<f64>], step: f64, y: Axis) -> String {
    let mut path = String::new();
    let mut open = false;
    for (point, value) in values.iter().enumerate() {
        let Some(value) = value else {
            open = false;
            continue;
        };
        let (x, at) = (xy(point as f64 * step), xy(y.at(*value)));
        path.push_str(&if open { format!("V{at}") } else { format!("M{x} {at}") });
        path.push_str(&format!("h{}", xy(step)));
        open = true;
    }
    path
}

/// Height, space behind and attack of both.
fn numbers(
    place: &str,
    shape: &ShapeReport,
    other: Option<(&ShapeReport, bool)>,
    defined: bool,
) -> Markup {
    let name = |before: bool| if before { say::BEFORE } else { say::REFERENCE };
    html! {
        dl.facts-grid {
            @for (field, x) in say::numbers(shape) {
                @if let Some(fact) = say::fact(field) {
                    div {
                        dt { (fact.label) }
                        dd { (number(&format!("{place}/{field}"), x, fact.unit)) }
                        @if let Some((other, before)) = other {
                            @let then = say::numbers(other).into_iter().find(|(name, _)| *name == field);
                            @if let Some((_, then)) = then {
                                dd.definition {
                                    (name(before)) " " (number(&format!("/compare/shape/{field}"), then, fact.unit))
                                }
                            }
                        }
                        @if defined { dd.definition { (fact.meaning) } }
                    }
                }
            }
            @if let Some(fact) = say::fact("hits") {
                div {
                    dt { (fact.label) }
                    dd { (counted(&format!("{place}/hits"), shape.hits, &shape.hits.to_string())) }
                    @if let Some((other, before)) = other {
                        dd.definition {
                            (name(before)) " "
                            (counted("/compare/shape/hits", other.hits, &other.hits.to_string()))
                        }
                    }
                    @if defined { dd.definition { (fact.meaning) } }
                }
            }
        }
    }
}

/// Strokes of the bands; hollow where hits drown.
fn bands(spectrum: &SpectrumReport) -> Markup {
    let bands = &spectrum.bands;
    if bands.iter().all(|band| band.over_db.is_none()) {
        return html! {};
    }
    let most = bands.iter().filter_map(|band| band.high_db).fold(LINE_DB, f64::max).min(90.0);
    let high = (most / LINE_DB).ceil() * LINE_DB;
    let y = Axis { low: 0.0, high, length: SPECTRUM_HEIGHT, up: true };
    let step = WIDTH / bands.len() as f64;
    let grid: String = y
        .multiples(LINE_DB)
        .iter()
        .map(|db| format!("M0 {}H{}", xy(y.at(*db)), xy(WIDTH)))
        .collect();
    html! {
        h3 { (say::HITS_OVER) }
        div.frame {
            div.y style={ "--tall:" (xy(SPECTRUM_HEIGHT)) } {
                @for db in y.multiples(LINE_DB * 2.0) {
                    span style={ "top:" (y.percent(db)) } { (format!("{db:.0}")) }
                }
            }
            div.view style={ "--tall:" (xy(SPECTRUM_HEIGHT)) } {
                (frame(&say::spoken_spectrum(spectrum), SPECTRUM_HEIGHT, html! {
                    @for (k, band) in bands.iter().enumerate() {
                        @if let (Some(low), Some(high)) = (band.low_db, band.high_db) {
                            rect.band x=(xy(k as f64 * step)) width=(xy(step)) y=(xy(y.at(high)))
                                height=(xy(y.at(low) - y.at(high))) {}
                        }
                    }
                    path.grid d=(grid) {}
                    @for (k, band) in bands.iter().enumerate() {
                        @if let Some(db) = band.over_db {
                            @let x = (k as f64 + 0.16) * step;
                            g data-json={ "/punch/spectrum/bands/" (k) } {
                                title { (minus(&format!("{}, {}", page::frequency(band.hz), signed(Some(db), "dB")))) }
                                @if db < HIT_CONTRAST_DB {
                                    rect.cap x=(xy(x)) width=(xy(step * 0.68)) y=(xy(SPECTRUM_HEIGHT - 7.0)) height="6.5" {}
                                } @else {
                                    rect.stem x=(xy(x)) width=(xy(step * 0.68)) y=(xy(y.at(db)))
                                        height=(xy(SPECTRUM_HEIGHT - y.at(db))) {}
                                }
                            }
                        }
                    }
                    path.bed d={ "M0 " (xy(SPECTRUM_HEIGHT)) "H" (xy(WIDTH)) } {}
                }))
            }
        }
        div.frame.times {
            div.y {}
            div.view {
                @for (k, band) in bands.iter().enumerate().filter(|(k, _)| k % 3 == 1) {
                    span style={ "left:" (xy((k as f64 + 0.5) / bands.len() as f64 * 100.0)) "%" } {
                        (page::frequency(band.hz))
                    }
                }
            }
        }
        p.caption {
            (say::HITS_OVER_TIP) " "
            (counted("/punch/spectrum/hits", spectrum.hits, &crate::words::count(spectrum.hits, "hit"))) "."
        }
    }
}

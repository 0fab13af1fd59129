//! Every hit of the song, in rows as lines of a text: a solid stem for what is left, a hollow cap
//! for what was lost, the bed as ground.

use maud::{Markup, html};

use super::number::units;
use super::piece::section;
use super::plot::{Axis, TIME_STEPS, WIDTH, frame, step, usual_most, xy};
use crate::report::{HitReport, Report};
use crate::words::{self, Term, clock, page as say, seconds, term_unit, value};

/// Height of a row, in the picture's units.
const HEIGHT: f64 = 44.0;
/// Most rows. Ours: they fill two thirds of a page of A4.
const MAX_ROWS: f64 = 12.0;
/// Most strokes a row: closer ones would run into each other at half a page's width.
const MAX_STROKES: usize = 220;
/// Shortest row, s.
const SHORTEST_ROW_S: f64 = 5.0;
/// Loss that is too small to be drawn, dB, as in the editor.
const LEAST_LOST_DB: f64 = 0.1;
/// Distance of the lines across, dB.
const LINE_DB: f64 = 6.0;

/// One stroke: a hit, or the median of several.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mark<'a> {
    time_s: f64,
    contrast_db: f64,
    lost_db: f64,
    /// The hit's place in the report, where it is one.
    hit: Option<(usize, &'a HitReport)>,
}

pub(super) fn render(report: &Report) -> Markup {
    if report.hits.is_empty() {
        return section("hits", say::HITS, html! { p.caption { (say::NO_HITS) } });
    }
    let (from_s, length_s) = (report.mix.from_s, report.mix.duration_s);
    let row_s = step(length_s, MAX_ROWS, &TIME_STEPS[2..]).max(SHORTEST_ROW_S);
    let line_s = step(row_s, 10.0, &TIME_STEPS);
    let rows = (length_s / row_s).ceil().max(1.0) as usize;
    let place = |time_s: f64| (((time_s - from_s) / row_s).max(0.0) as usize).min(rows - 1);
    let mut rows: Vec<Vec<Mark<'_>>> = vec![Vec::new(); rows];
    for (index, hit) in report.hits.iter().enumerate() {
        rows[place(hit.time_s)].push(Mark {
            time_s: hit.time_s,
            contrast_db: hit.contrast_db.unwrap_or(0.0),
            lost_db: hit.lost_db.unwrap_or(0.0),
            hit: Some((index, hit)),
        });
    }
    let dense = rows.iter().any(|row| row.len() > MAX_STROKES);
    let merged_s = dense.then_some(row_s / MAX_STROKES as f64);
    let counts: Vec<usize> = rows.iter().map(Vec::len).collect();
    if let Some(width_s) = merged_s {
        rows = rows.iter().map(|row| merge(row, from_s, width_s)).collect();
    }
    let tops: Vec<f64> = rows.iter().flatten().map(|m| m.contrast_db + m.lost_db).collect();
    let top = usual_most(&tops).unwrap_or(0.0).max(12.0);
    let y = Axis { low: 0.0, high: (top / LINE_DB).ceil() * LINE_DB, length: HEIGHT, up: true };
    let over = tops.iter().any(|top| *top > y.high).then_some(y.high);
    let picture = Picture { y, line_s, median_db: report.punch.contrast_db };
    section(
        "hits",
        say::HITS,
        html! {
            (legend())
            div.rows {
                @for (k, (row, hits)) in rows.iter().zip(&counts).enumerate() {
                    @let start = from_s + k as f64 * row_s;
                    @let x = Axis { low: start, high: start + row_s, length: WIDTH, up: false };
                    div.row {
                        span.label { (clock(start)) }
                        (picture.row(row, *hits, x))
                        @if k == 0 { (picture.scale()) }
                    }
                }
            }
            p.caption { (units(&say::hits_caption(row_s, line_s, LINE_DB, merged_s, over))) }
        },
    )
}

/// The medians of the strokes in each stretch of `width_s`.
fn merge<'a>(row: &[Mark<'a>], from_s: f64, width_s: f64) -> Vec<Mark<'a>> {
    let bin = |mark: &Mark<'_>| ((mark.time_s - from_s) / width_s).floor() as i64;
    row.chunk_by(|a, b| bin(a) == bin(b))
        .map(|group| {
            let middle = |value: fn(&Mark<'_>) -> f64| {
                let mut values: Vec<f64> = group.iter().map(value).collect();
                values.sort_by(f64::total_cmp);
                let n = values.len();
                (values[(n - 1) / 2] + values[n / 2]) / 2.0
            };
            Mark {
                time_s: from_s + (bin(&group[0]) as f64 + 0.5) * width_s,
                contrast_db: middle(|m| m.contrast_db),
                lost_db: middle(|m| m.lost_db),
                hit: group[0].hit.filter(|_| group.len() == 1),
            }
        })
        .collect()
}

/// What all rows share.
struct Picture {
    y: Axis,
    line_s: f64,
    median_db: Option<f64>,
}

impl Picture {
    fn row(&self, marks: &[Mark<'_>], hits: usize, x: Axis) -> Markup {
        let name = say::hits_row(&clock(x.low), &clock(x.high), hits);
        let width = width(marks, x);
        let across: String = self
            .y
            .multiples(LINE_DB)
            .iter()
            .filter(|db| **db > 0.0)
            .map(|db| format!("M0 {}H{}", xy(self.y.at(*db)), xy(WIDTH)))
            .collect();
        let down: String = x
            .multiples(self.line_s)
            .iter()
            .map(|s| format!("M{} 0V{}", xy(x.at(*s)), xy(HEIGHT)))
            .collect();
        frame(
            &name,
            HEIGHT,
            html! {
                path.grid d=(across) {}
                path.grid d=(down) {}
                @for mark in marks { (self.stroke(mark, x, width)) }
                @if let Some(median) = self.median_db {
                    path.median d={ "M0 " (xy(self.y.at(median))) "H" (xy(WIDTH)) } {}
                }
                path.bed d={ "M0 " (xy(HEIGHT)) "H" (xy(WIDTH)) } {}
            },
        )
    }

    fn stroke(&self, mark: &Mark<'_>, x: Axis, width: f64) -> Markup {
        let left = (x.at(mark.time_s) - width / 2.0).clamp(0.0, WIDTH - width);
        let top = self.y.at(mark.contrast_db).min(HEIGHT - 1.0);
        let above = self.y.at(mark.contrast_db + mark.lost_db).min(top - 3.0).max(0.5);
        let draw = html! {
            rect.stem x=(xy(left)) y=(xy(top)) width=(xy(width)) height=(xy(HEIGHT - top)) {}
            @if mark.lost_db >= LEAST_LOST_DB {
                rect.cap x=(xy(left)) y=(xy(above)) width=(xy(width))
                    height=(xy((top - 1.0 - above).max(1.0))) {}
            }
        };
        let Some((index, hit)) = mark.hit else { return draw };
        let told = say::hit(
            &seconds(hit.time_s),
            &value(hit.contrast_db, term_unit(Term::Contrast)),
            &value(hit.lost_db, term_unit(Term::HitLost)),
            &value(hit.true_peak_dbtp, term_unit(Term::HitTruePeak)),
        );
        html! {
            g data-json={ "/hits/" (index) } { title { (told) } (draw) }
        }
    }

    /// The lines' numbers, at the right of the first row.
    fn scale(&self) -> Markup {
        html! {
            span.scale {
                @for db in self.y.multiples(LINE_DB * 2.0) {
                    span style={ "top:" (self.y.percent(db)) } { (format!("{db:.0}")) }
                }
                span.unit { (words::term_unit(Term::Contrast)) }
            }
        }
    }
}

/// Width of the strokes of a row: wide enough to be seen, apart from their neighbours.
fn width(marks: &[Mark<'_>], x: Axis) -> f64 {
    let gaps = marks.windows(2).map(|pair| x.at(pair[1].time_s) - x.at(pair[0].time_s));
    let tight = gaps.filter(|gap| *gap > 0.5).fold(WIDTH, f64::min);
    (tight * 0.64).clamp(2.6, 9.0)
}

fn legend() -> Markup {
    html! {
        ul.legend {
            li { svg viewBox="0 0 10 16" aria-hidden="true" { rect.stem x="2" y="1" width="6" height="14" {} } (say::LEFT) }
            li { svg viewBox="0 0 10 16" aria-hidden="true" { rect.cap x="2.5" y="1.5" width="5" height="13" {} } (say::LOST) }
            li { svg viewBox="0 0 10 16" aria-hidden="true" { path.bed d="M0 13h10" {} } (say::BED) }
            li { svg viewBox="0 0 22 16" aria-hidden="true" { path.median d="M0 8h22" {} } (say::MEDIAN) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(time_s: f64, contrast_db: f64) -> Mark<'static> {
        Mark { time_s, contrast_db, lost_db: 0.0, hit: None }
    }

    #[test]
    fn close_hits_become_their_median() {
        let row = [mark(0.1, 1.0), mark(0.2, 9.0), mark(0.3, 4.0), mark(1.2, 7.0)];
        let merged = merge(&row, 0.0, 1.0);
        let got: Vec<(f64, f64)> = merged.iter().map(|m| (m.time_s, m.contrast_db)).collect();
        assert_eq!(got, [(0.5, 4.0), (1.5, 7.0)]);
    }
}

//! Every reading with its unit, its definition and its source.

use maud::{Markup, html};

use super::number::{counted, difference, number};
use super::piece::section;
use crate::report::Report;
use crate::words::{self, Term, definition, page as say, term_label, term_unit};

pub(super) fn render(report: &Report) -> Markup {
    section(
        "readings",
        say::READINGS,
        html! {
            table.readings {
                thead { tr { @for head in say::COLUMNS { th scope="col" { (head) } } } }
                @for (group, rows) in groups(report) {
                    tbody {
                        tr.group { th colspan="3" scope="rowgroup" { (group) } }
                        @for row in rows {
                            tr {
                                th scope="row" { (row.label) }
                                td.value { (row.shown) }
                                td.definition { (row.meaning) }
                            }
                        }
                    }
                }
            }
        },
    )
}

/// One reading: its name, its value, what it means.
struct Row {
    label: &'static str,
    shown: Markup,
    meaning: &'static str,
}

impl From<(Term, Markup)> for Row {
    fn from((term, shown): (Term, Markup)) -> Self {
        Self { label: term_label(term), shown, meaning: definition(term) }
    }
}

fn groups(report: &Report) -> Vec<(&'static str, Vec<Row>)> {
    let rows =
        |rows: Vec<(Term, Markup)>| -> Vec<Row> { rows.into_iter().map(Row::from).collect() };
    let (l, p, b) = (&report.loudness, &report.punch, &report.balance);
    let loudness =
        |term, field: &str, x| (term, number(&format!("/loudness/{field}"), x, term_unit(term)));
    let punch =
        |term, field: &str, x| (term, number(&format!("/punch/{field}"), x, term_unit(term)));
    let balance =
        |term, field: &str, x| (term, difference(&format!("/balance/{field}"), x, term_unit(term)));
    let mut groups = vec![
        (
            say::GROUP_LOUDNESS,
            rows(vec![
                loudness(Term::Integrated, "integrated_lufs", l.integrated_lufs),
                loudness(Term::ShortTermMax, "short_term_max_lufs", l.short_term_max_lufs),
                loudness(Term::MomentaryMax, "momentary_max_lufs", l.momentary_max_lufs),
                loudness(Term::Range, "range_lu", l.range_lu),
            ]),
        ),
        (
            say::GROUP_PEAKS,
            rows(vec![
                loudness(Term::TruePeak, "true_peak_dbtp", l.true_peak_dbtp),
                loudness(Term::SamplePeak, "sample_peak_dbfs", l.sample_peak_dbfs),
                loudness(Term::Plr, "plr_db", l.plr_db),
                loudness(Term::PsrMin, "psr_min_db", l.psr_min_db),
                loudness(Term::PsrMedian, "psr_median_db", l.psr_median_db),
            ]),
        ),
        (
            say::GROUP_HITS,
            rows(vec![
                (Term::Hits, counted("/punch/hits", p.hits, &p.hits.to_string())),
                punch(Term::Contrast, "contrast_db", p.contrast_db),
                punch(Term::ContrastP10, "contrast_p10_db", p.contrast_p10_db),
                punch(Term::ContrastP90, "contrast_p90_db", p.contrast_p90_db),
            ]),
        ),
        (say::GROUP_SMALL, small(report)),
        (say::GROUP_CEILING, ceiling(report)),
        (
            say::GROUP_BALANCE,
            rows(vec![
                balance(Term::Low, "low_db", b.low_db),
                balance(Term::Mid, "mid_db", b.mid_db),
                balance(Term::High, "high_db", b.high_db),
                balance(Term::MidDeficit, "mid_deficit_db", b.mid_deficit_db),
            ]),
        ),
    ];
    if let Some(buried) = p.buried
        && let Some((_, hits)) = groups.iter_mut().find(|(group, _)| *group == say::GROUP_HITS)
    {
        let count = counted("/punch/buried", buried, &buried.to_string());
        hits.insert(1, (Term::Buried, count).into());
    }
    let input = &report.input;
    if input.nan_samples > 0 || input.inf_samples > 0 {
        let row = |term, field: &str, n: u64| {
            (term, counted(&format!("/input/{field}"), n, &n.to_string()))
        };
        groups.push((
            say::GROUP_INPUT,
            rows(vec![
                row(Term::NanSamples, "nan_samples", input.nan_samples),
                row(Term::InfSamples, "inf_samples", input.inf_samples),
            ]),
        ));
    }
    groups
}

/// The hits as a small speaker leaves them.
fn small(report: &Report) -> Vec<Row> {
    let s = &report.small_speaker;
    let place = |field: &str| format!("/small_speaker/{field}");
    let unit = term_unit(Term::Contrast);
    let vanished = s.vanished.map_or_else(
        || number(&place("vanished"), None, ""),
        |n| counted(&place("vanished"), n, &n.to_string()),
    );
    let contrast = html! {
        (number(&place("contrast_db"), s.contrast_db, unit))
        @if s.contrast_p10_db.is_some() {
            span.range {
                (number(&place("contrast_p10_db"), s.contrast_p10_db, ""))
                " to "
                (number(&place("contrast_p90_db"), s.contrast_p90_db, unit))
            }
        }
    };
    let high_pass = number(&place("high_pass_hz"), Some(s.high_pass_hz), "Hz");
    [
        (contrast, say::SMALL_CONTRAST),
        (vanished, say::SMALL_VANISHED),
        (high_pass, say::SMALL_HIGH_PASS),
    ]
    .into_iter()
    .chain(report.listener.first().map(|at| {
        let level = Some(at.hit_level_lufs);
        (number("/listener/0/hit_level_lufs", level, "LUFS"), say::LISTENER)
    }))
    .map(|(shown, (label, meaning))| Row { label, shown, meaning })
    .collect()
}

fn ceiling(report: &Report) -> Vec<Row> {
    let c = &report.leaks.ceiling;
    let place = |field: &str| format!("/leaks/ceiling/{field}");
    let unit = term_unit(Term::ImpliedReduction);
    let reduction = html! {
        (number(&place("implied_reduction_db"), c.implied_reduction_db, unit))
        @if c.implied_reduction_low_db.is_some() {
            span.range {
                (say::RANGE) " "
                (number(&place("implied_reduction_low_db"), c.implied_reduction_low_db, ""))
                " to "
                (number(&place("implied_reduction_high_db"), c.implied_reduction_high_db, unit))
            }
        }
    };
    let level = html! {
        (number(&place("ceiling_dbtp"), c.ceiling_dbtp, term_unit(Term::CeilingLevel)))
        @if let Some(kind) = c.kind { span.range { (words::kind_word(kind)) } }
    };
    let hits = c.hits_at_ceiling.map_or_else(
        || number(&place("hits_at_ceiling"), None, ""),
        |n| counted(&place("hits_at_ceiling"), n, &n.to_string()),
    );
    let label = if c.measured { words::MEASURED } else { words::ESTIMATED };
    let reduction = Row { label, shown: reduction, meaning: definition(Term::ImpliedReduction) };
    let others = [
        (
            Term::ImpliedReductionP90,
            number(&place("implied_reduction_p90_db"), c.implied_reduction_p90_db, unit),
        ),
        (
            Term::ImpliedReductionMax,
            number(&place("implied_reduction_max_db"), c.implied_reduction_max_db, unit),
        ),
        (Term::CeilingLevel, level),
        (Term::HitsAtCeiling, hits),
    ];
    std::iter::once(reduction).chain(others.into_iter().map(Row::from)).collect()
}

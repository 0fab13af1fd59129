//! The top of the page: what was measured, and the verdict.

use maud::{Markup, html};

use super::number::{minus, number};
use super::sign;
use crate::report::Report;
use crate::words::{self, Term, page as say, stream, term_label, term_unit};

/// The mix's name: the last part of its path, without characters that only move a cursor.
pub(super) fn name(report: &Report) -> String {
    file_name(&report.mix.file)
}

/// The last part of a path of any system.
pub(super) fn file_name(file: &str) -> String {
    let last = file.rsplit(['/', '\\']).find(|part| !part.is_empty()).unwrap_or_default();
    let name: String = last.chars().filter(|c| !c.is_control()).collect();
    if name.trim().is_empty() { say::NO_NAME.to_owned() } else { name }
}

pub(super) fn render(report: &Report, name: &str) -> Markup {
    let l = &report.loudness;
    let key = [
        (Term::Integrated, "integrated_lufs", l.integrated_lufs),
        (Term::TruePeak, "true_peak_dbtp", l.true_peak_dbtp),
        (Term::Plr, "plr_db", l.plr_db),
        (Term::Range, "range_lu", l.range_lu),
    ];
    let p = &report.punch;
    html! {
        p.brand { (sign::mark()) strong { (words::NAME) } " " (say::TITLE) }
        h1 { (name) }
        p.facts { (stream(&report.mix)) }
        div.verdict {
            div.figure {
                span.big { (number("/punch/contrast_db", p.contrast_db, term_unit(Term::Contrast))) }
                span.under { (say::CONTRAST) }
            }
            @if p.contrast_p10_db.is_some() {
                div.figure {
                    span.middle {
                        (number("/punch/contrast_p10_db", p.contrast_p10_db, ""))
                        " to "
                        (number("/punch/contrast_p90_db", p.contrast_p90_db, term_unit(Term::Contrast)))
                    }
                    span.under { (say::TENTHS) }
                }
            }
            @if p.contrast_percentile.is_some() {
                div.figure {
                    span.middle { (number("/punch/contrast_percentile", p.contrast_percentile, "%")) }
                    span.under { (words::records::lower()) }
                }
            }
            p.sentence { (minus(&report.verdict)) }
        }
        @if report.failed {
            p.sentence role="alert" { (say::FAILED) }
        }
        dl.key {
            @for (term, field, x) in key {
                div {
                    dt { (term_label(term)) }
                    dd { (number(&format!("/loudness/{field}"), x, term_unit(term))) }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_is_the_last_part_of_any_path() {
        let named = |file: &str| {
            let mut report = Report::new(
                crate::report::Source { file: file.to_owned(), ..Default::default() },
                &brunt_engine::Readings::default(),
                &[],
                brunt_engine::Thresholds::default(),
            );
            report.mix.file = file.to_owned();
            name(&report)
        };
        assert_eq!(named("songs/Größe \u{1f941}.wav"), "Größe \u{1f941}.wav");
        assert_eq!(named("C:\\songs\\mix.wav"), "mix.wav");
        assert_eq!(named("a\nb.wav"), "ab.wav");
        assert_eq!(named(""), say::NO_NAME);
    }
}

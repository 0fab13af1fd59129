//! The notes to move that cost most.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html};

use super::number::{difference, number};
use crate::edits::{to_csv, to_midi};
use crate::report::{EditReport, Report};
use crate::words::{edits as say, seconds};

/// Most rows. Ours: a screen.
const MOST: usize = 15;

pub(super) fn render(report: &Report) -> Markup {
    let edits = report.timing.as_ref().map_or(&[][..], |timing| &timing.edits);
    if edits.is_empty() {
        return html! {};
    }
    let shown = edits.len().min(MOST);
    let bars = edits.iter().any(|edit| edit.bar.is_some());
    let place = |k: usize, field: &str| format!("/timing/edits/{k}/{field}");
    html! {
        h3 { (say::TITLE) }
        table.edits {
            thead {
                tr {
                    @for (k, head) in say::COLUMNS.iter().enumerate().filter(|(k, _)| bars || *k != 2) {
                        th.value[k > 0] scope="col" { (head) }
                    }
                }
            }
            tbody {
                @for (k, edit) in edits.iter().take(MOST).enumerate() {
                    tr {
                        th scope="row" { (edit.part) }
                        td.value { (seconds(edit.time_s)) }
                        @if bars {
                            td.value { @if let (Some(bar), Some(beat)) = (edit.bar, edit.beat) { (bar) "." (format!("{beat:.1}")) } }
                        }
                        td.value { (difference(&place(k, "move_ms"), Some(edit.move_ms), "ms")) " (" (edit.lies) ")" }
                        td.value { (number(&place(k, "cost_db"), edit.cost_db, "dB")) }
                    }
                }
            }
        }
        p.caption { (say::caption(shown, edits.len())) }
        (files(edits))
    }
}

/// The list for a workstation, in the page itself: whoever has the page alone, from the plug-in as from
/// a file, has the markers too.
fn files(edits: &[EditReport]) -> Markup {
    let save = |name: &str, kind: &str, bytes: &[u8], text: &str| {
        let href = format!("data:{kind};base64,{}", STANDARD.encode(bytes));
        html! { a href=(href) download=(name) { (text) } }
    };
    html! {
        p.save {
            @if let Ok(csv) = to_csv(edits) {
                (save("brunt-edits.csv", "text/csv", csv.as_bytes(), say::SAVE_CSV))
            }
            @if let Ok(midi) = to_midi(edits, None) {
                (save("brunt-edits.mid", "audio/midi", &midi, say::SAVE_MIDI))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Readings, Thresholds};

    use super::*;
    use crate::report::{Source, TimingReport};

    /// What is saved from the page is what `--edits` writes.
    #[test]
    fn the_page_carries_the_files() {
        let source = Source::default();
        let mut report = Report::new(source, &Readings::default(), &[], Thresholds::default());
        assert!(!render(&report).into_string().contains("download"));
        let edit = EditReport { part: "Bass".to_owned(), time_s: 1.5, ..EditReport::default() };
        report.timing = Some(TimingReport { edits: vec![edit], ..TimingReport::default() });
        let page = render(&report).into_string();
        let edits = &report.timing.as_ref().expect("set").edits;
        let (csv, midi) = (to_csv(edits).expect("text"), to_midi(edits, None).expect("bytes"));
        for (name, bytes) in [("brunt-edits.csv", csv.as_bytes()), ("brunt-edits.mid", &midi)] {
            assert!(page.contains(&format!("download=\"{name}\"")), "{page}");
            assert!(page.contains(&STANDARD.encode(bytes)), "{name}");
        }
    }
}

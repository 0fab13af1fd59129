//! What was written to be listened to, on a terminal of 80 columns.

use brunt_engine::LeakKind;
use brunt_report::listen::ListenReport;
use brunt_report::words::{self, caution, leak_code, listen as say, signed, value};

use super::Page;
use super::style::bold;

/// Columns of a version's name.
const NAME: usize = 30;

/// The versions with what they gain, and what has none.
#[must_use]
pub fn render_listen(report: &ListenReport) -> String {
    let mut page = Page::default();
    page.paragraph("", 0, &say::passage_says(report));
    page.gap();
    let [name, predicted, measured, contrast] = say::COLUMNS;
    page.line(&bold(&format!("  {name:NAME$}{predicted:>12}{measured:>12}{contrast:>12}")));
    for version in &report.versions {
        let cut: String = version.name.chars().take(NAME - 1).collect();
        let gain = |db: Option<f64>| match version.against {
            Some(_) if db.is_some() => signed(db, "dB"),
            _ => String::new(),
        };
        let line = format!(
            "  {cut:NAME$}{:>12}{:>12}{:>12}",
            gain(version.predicted_db),
            gain(version.remeasured_db),
            value(version.contrast_db, "dB")
        );
        page.line(line.trim_end());
    }
    page.paragraph("  ", 2, &say::numbers_say(report));
    for left in &report.left_out {
        let leak = LeakKind::ALL.into_iter().find(|kind| leak_code(*kind) == left.leak);
        let name = leak.map_or("", words::leak_name);
        page.row(name, &format!("{}: {}", say::LEFT_OUT, left.why));
    }
    page.gap();
    page.paragraph("", 0, caution()[0]);
    page.text
}

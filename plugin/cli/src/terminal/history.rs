//! Revisions next to each other on a terminal of 80 columns.

use brunt_engine::LeakKind;
use brunt_report::history::{History, Revision};
use brunt_report::listener::TARGETS_LUFS;
use brunt_report::words::{self, UNKNOWN, seconds, signed, value};

use super::style::{bold, state_style};
use super::{COLUMNS, Page, from_the_end, one_line};

/// Columns of a row's name, and of each revision.
const NAME: usize = 24;
const COLUMN: usize = 14;
/// Marks the costs that are those on small speakers.
const SMALL_SPEAKERS: &str = "*";
/// Revisions across: as many as fit.
const ACROSS: usize = (COLUMNS - NAME) / COLUMN;

/// Lays a history out, with the codes of its colours. A stream that is no terminal strips them.
#[must_use]
pub fn render_history(history: &History) -> String {
    let mut page = Page::default();
    for revision in &history.revisions {
        page.line(&format!(
            "{} {}",
            bold(&revision.name),
            from_the_end(&one_line(&revision.file), COLUMNS - revision.name.len() - 1)
        ));
    }
    page.line(&match history.passage_s {
        Some(s) => format!("Measured over the {} that all aligned ones share.", seconds(s)),
        None => "Measured whole: no shared passage was found.".to_owned(),
    });
    for revisions in history.revisions.chunks(ACROSS) {
        page.gap();
        table(&mut page, revisions);
    }
    page.gap();
    page.line(&bold("What changed"));
    for change in &history.changes {
        let name = format!("{} to {}", change.from, change.to);
        for (n, says) in change.says.iter().enumerate() {
            let name = if n == 0 { name.as_str() } else { "" };
            page.row(name, says);
        }
    }
    page.text
}

/// A row of the table: its name, and what it shows of a revision.
type Row = (&'static str, fn(&Revision) -> String);

const ROWS: &[Row] = &[
    ("Starts at, s", |r| r.offset_s.map_or(UNKNOWN.to_owned(), |s| signed(Some(s), ""))),
    ("Loudness, LUFS", |r| value(r.report.loudness.integrated_lufs, "")),
    ("True peak, dBTP", |r| value(r.report.loudness.true_peak_dbtp, "")),
    ("PLR, dB", |r| value(r.report.loudness.plr_db, "")),
    ("Hits", |r| r.report.punch.hits.to_string()),
    ("Hit contrast, dB", |r| value(r.report.punch.contrast_db, "")),
    ("Small speaker, dB", |r| value(r.report.small_speaker.contrast_db, "")),
    ("Small sp., lost hits", |r| {
        r.report.small_speaker.vanished.map_or(UNKNOWN.to_owned(), |n| n.to_string())
    }),
    ("Low, dB", |r| signed(r.report.balance.low_db, "")),
    ("Mid, dB", |r| signed(r.report.balance.mid_db, "")),
    ("High, dB", |r| signed(r.report.balance.high_db, "")),
    ("Mid deficit, dB", |r| signed(r.report.balance.mid_deficit_db, "")),
];

fn table(page: &mut Page, revisions: &[Revision]) {
    let cells = |texts: &mut dyn Iterator<Item = String>| {
        texts.map(|text| format!("{text:>COLUMN$}")).collect::<String>()
    };
    let heads = cells(
        &mut revisions
            .iter()
            .map(|r| if r.aligned { r.name.clone() } else { format!("{} whole", r.name) }),
    );
    page.line(&bold(&format!("{:NAME$}{heads}", "")));
    for (name, show) in ROWS {
        page.line(&format!("{name:NAME$}{}", cells(&mut revisions.iter().map(show))));
    }
    let played = format!("Hit level at {:.0} LUFS", TARGETS_LUFS[0]);
    page.line(&format!(
        "{played:NAME$}{}",
        cells(
            &mut revisions
                .iter()
                .map(|r| { value(r.report.listener.first().map(|at| at.hit_level_lufs), "") })
        )
    ));
    let mut small = false;
    for kind in LeakKind::ALL {
        let mut line = format!("{:NAME$}", format!("{} cost, dB", words::leak_name(kind)));
        for revision in revisions {
            let leak = revision.report.leak(kind);
            let leaks = &revision.report.leaks;
            let cost = leaks.shown_db(kind).map_or(String::new(), |db| value(Some(db), ""));
            let mark = leaks.small_speakers_db(kind).map_or("", |_| SMALL_SPEAKERS);
            small |= !mark.is_empty();
            let text = format!("{} {cost}{mark}", words::state_word(leak.state));
            let text = text.trim_end();
            let room = COLUMN.saturating_sub(text.chars().count());
            line.push_str(&" ".repeat(room));
            line.push_str(&state_style(leak.state).paint(text));
        }
        page.line(&line);
    }
    if small {
        page.line(&format!("{SMALL_SPEAKERS} {}", words::ON_SMALL_SPEAKERS));
    }
}

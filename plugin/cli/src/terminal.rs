//! A report on a terminal of 80 columns.
//!
//! From the top: what was measured, the readings, the evidence for each leak, the verdict; and at
//! the end, where the eye ends up, what to do about each leak that is not clear, worst first. Colour
//! comes on top of the words and means nothing that they do not say.

mod history;
mod listen;
mod style;

pub use history::render_history;
pub use listen::render_listen;

use std::path::PathBuf;

use brunt_engine::{LeakKind, State, Thresholds};
use brunt_report::report::Report;
use brunt_report::words::{
    self, Term, count, signed, span, term_label, term_unit, terminal as say, value,
};

use style::{bold, state_style};

/// Columns of the terminal.
pub const COLUMNS: usize = 80;
/// Columns before the text of a row: a margin and the row's name.
const NAME: usize = 14;

/// Lays a report out, with the codes of its colours. A stream that is no terminal strips them.
#[must_use]
pub fn render(report: &Report) -> String {
    let mut page = Page::default();
    head(&mut page, report);
    readings(&mut page, report);
    page.gap();
    page.line(&format!("{}: {}", bold(say::LEAKS), say::LEAKS_ARE));
    let order = worst_first(report);
    for &kind in &order {
        leak(&mut page, kind, report);
    }
    let limits = report
        .made
        .as_ref()
        .map(|made| Thresholds { watch_db: made.watch_db, leaking_db: made.leaking_db });
    if let (Some(made), Some(limits)) = (&report.made, limits) {
        let besides = LeakKind::ALL.into_iter().any(|kind| {
            let state = report.leak(kind).state;
            let cost_db = report.headline(kind).db;
            state.loses() && cost_db.is_some_and(|db| limits.state(db) < state)
        });
        page.row("Limits", &say::limits(made, besides));
    }
    for (term, meaning) in say::TERMS {
        page.paragraph("", 2, &format!("{term}: {meaning}"));
    }
    if !report.parts.is_empty() {
        page.paragraph("", 2, say::COST_OF_PARTS);
    }
    parts(&mut page, report);
    if let Some(compare) = &report.compare {
        page.row("Compare", &compare.says);
    }
    page.gap();
    page.paragraph("", 0, &report.verdict);
    page.gap();
    page.line(&bold(say::TRY));
    // A clear leak needs nothing, unless something is said of it all the same.
    let to_do = |kind: &&LeakKind| {
        let leak = report.leak(**kind);
        leak.state != State::Clear || leak.advice.contains(words::EASE_THE_DRUMS)
    };
    for &kind in order.iter().filter(to_do) {
        let leak = report.leak(kind);
        page.row_styled(words::leak_name(kind), &leak.advice, state_style(leak.state));
    }
    if !order.iter().any(|kind| to_do(&kind)) {
        page.paragraph("", 2, say::NOTHING_TO_TRY);
    }
    // The advice on timing names one part, and two takes can lose more against each other.
    let doubles = report.timing.iter().flat_map(|timing| &timing.doubles);
    for double in doubles {
        let state =
            limits.zip(double.summed.both_db).map(|(limits, lost_db)| limits.state(lost_db));
        if state.is_some_and(State::loses) {
            page.row(say::NEXT, &say::double_next(&double.says));
        }
    }
    let unknown =
        order.iter().map(|&kind| report.leak(kind)).filter(|leak| leak.state == State::Unknown);
    let needs: Vec<_> = unknown.filter_map(|leak| leak.need.as_ref()).collect();
    if let Some(next) = say::next(&needs) {
        page.row(say::NEXT, next);
    }
    let mids = &report.leaks.mids;
    if say::wants_reference(mids.leak.state, mids.percentile, mids.weakness_over_reference_db) {
        page.row(say::NEXT, say::REFERENCE_NEXT);
    }
    page.text
}

/// The files that were written, a line each, behind a gap; nothing without any.
#[must_use]
pub fn written(files: &[PathBuf]) -> String {
    let mut page = Page::default();
    for (number, file) in files.iter().enumerate() {
        if number == 0 {
            page.gap();
        }
        // Whole, whatever its length: it is there to be copied.
        page.line(&say::written(&one_line(&file.to_string_lossy())));
    }
    page.text
}

/// The leaks in the order in which they are worth a look: leaking, watch, clear, unknown, and by cost.
fn worst_first(report: &Report) -> [LeakKind; LeakKind::ALL.len()] {
    let mut order = LeakKind::ALL;
    let rank = |kind: LeakKind| match report.leak(kind).state {
        State::Leaking => 0,
        State::Watch => 1,
        State::Clear => 2,
        State::Unknown => 3,
    };
    let cost = |kind: LeakKind| report.headline(kind).db.unwrap_or(0.0);
    order.sort_by(|&a, &b| rank(a).cmp(&rank(b)).then(cost(b).total_cmp(&cost(a))));
    order
}

fn head(page: &mut Page, report: &Report) {
    let mix = &report.mix;
    let facts = words::stream(mix);
    let name = one_line(&mix.file);
    let width = textwrap::core::display_width;
    if width(&name) + 2 + width(&facts) <= COLUMNS {
        page.line(&format!("{}  {facts}", bold(&name)));
    } else {
        page.line(&bold(&from_the_end(&name, COLUMNS)));
        page.line(&facts);
    }
    page.gap();
}

fn readings(page: &mut Page, report: &Report) {
    let l = &report.loudness;
    let with =
        |term: Term, x: Option<f64>, name: &str| format!("{} {name}", value(x, term_unit(term)));
    page.row(
        "Loudness",
        &format!(
            "{}, LRA {}",
            with(Term::Integrated, l.integrated_lufs, "integrated"),
            value(l.range_lu, term_unit(Term::Range)),
        ),
    );
    page.row(
        "",
        &format!(
            "max {}, {}",
            with(Term::ShortTermMax, l.short_term_max_lufs, "short-term"),
            with(Term::MomentaryMax, l.momentary_max_lufs, "momentary"),
        ),
    );
    page.row(
        "Dynamics",
        &format!(
            "{} {}, {} {} min, {} median",
            term_label(Term::Plr),
            value(l.plr_db, term_unit(Term::Plr)),
            term_label(Term::Psr),
            value(l.psr_min_db, term_unit(Term::PsrMin)),
            value(l.psr_median_db, term_unit(Term::PsrMedian)),
        ),
    );
    page.row(
        "Peaks",
        &format!(
            "{}, {}",
            with(Term::TruePeak, l.true_peak_dbtp, "true peak"),
            with(Term::SamplePeak, l.sample_peak_dbfs, "sample peak"),
        ),
    );
    let b = &report.balance;
    page.row(
        "Balance",
        &format!(
            "low {}, mid {}, high {} against the curve",
            signed(b.low_db, term_unit(Term::Low)),
            signed(b.mid_db, term_unit(Term::Mid)),
            signed(b.high_db, term_unit(Term::High)),
        ),
    );
    let p = &report.punch;
    let range = match (p.contrast_p10_db, p.contrast_p90_db) {
        (Some(low), Some(high)) => {
            format!(
                " median, {} {}",
                words::PERCENTILES,
                span(low, high, term_unit(Term::Contrast))
            )
        }
        _ => String::new(),
    };
    page.row(
        "Hits",
        &format!(
            "{}, contrast {}{range}",
            words::hits_found(p.hits, p.buried),
            value(p.contrast_db, term_unit(Term::Contrast)),
        ),
    );
    if let (Some(contrast), Some(_)) = (p.contrast_db, p.contrast_percentile) {
        page.row("", &words::records::contrast_among_records(contrast));
    }
    for (number, section) in say::sections(&report.sections).iter().enumerate() {
        page.row(if number == 0 { "Sections" } else { "" }, section);
    }
    if let Some(more) = say::more_sections(&report.sections) {
        page.row("", &more);
    }
    let small = &report.small_speaker;
    if let Some(vanished) = small.vanished {
        page.row(
            "Speaker",
            &format!(
                "a small one, from {:.0} Hz up: contrast {}, {}",
                small.high_pass_hz,
                value(small.contrast_db, term_unit(Term::Contrast)),
                words::vanished(vanished),
            ),
        );
    }
    if !report.listener.is_empty() {
        page.row("Listener", &words::listener(&report.listener));
    }
    damaged_rows(page, report);
}

/// The files with samples that are no audio, behind a gap; nothing without any.
#[must_use]
pub fn damaged(report: &Report) -> String {
    let mut page = Page::default();
    damaged_rows(&mut page, report);
    if !page.text.is_empty() {
        page.text.insert(0, '\n');
    }
    page.text
}

fn damaged_rows(page: &mut Page, report: &Report) {
    for (number, damage) in say::damaged(report).iter().enumerate() {
        page.row(if number == 0 { "Input" } else { "" }, &one_line(damage));
    }
}

/// A leak's state and cost, and under it the evidence.
fn leak(page: &mut Page, kind: LeakKind, report: &Report) {
    let (leak, shown) = (report.leak(kind), report.headline(kind));
    let cost = match (shown.db, shown.low_db, shown.high_db) {
        (Some(db), Some(low), Some(high)) => {
            let cost = format!("{} ({})", value(Some(db), "dB"), span(low, high, "dB"));
            let small_db = report.leaks.small_speakers_db(kind);
            format!("  {}", words::behind_small_speakers(small_db, cost))
        }
        _ => String::new(),
    };
    let needs = leak.need.as_ref().filter(|_| leak.state == State::Unknown).and_then(say::needs);
    let cost = needs.map_or(cost, |needs| format!("  {needs}"));
    let word = words::state_word(leak.state);
    // The longest state is seven letters; nothing follows where there is no cost.
    let word = if cost.is_empty() { word.to_owned() } else { format!("{word:7}") };
    let state = state_style(leak.state).paint(&word);
    let line = format!("  {} {state}{cost}", bold(&format!("{:11}", words::leak_name(kind))));
    page.line(&line);
    // What is clear, or needs another input, takes one line, so that what matters has the room.
    let clear = leak.state == State::Clear && !leak.advice.contains(words::EASE_THE_DRUMS);
    if !clear && needs.is_none() {
        page.paragraph("", NAME, &leak.says);
    }
}

/// A line a part: how it is timed against the reference.
fn parts(page: &mut Page, report: &Report) {
    if report.parts.is_empty() {
        return;
    }
    page.gap();
    let files = report.timing.iter().flat_map(|timing| {
        timing.reference.iter().chain(&timing.reference_joined).map(|file| one_line(file))
    });
    let files: Vec<_> = files.collect();
    let against = match &files[..] {
        [] => String::new(),
        files => format!(", timing against {}", files.join(", ")),
    };
    page.line(&from_the_end(&format!("{}{against}", bold("Parts")), COLUMNS + 8));
    for part in &report.parts {
        let mut text = from_the_end(&one_line(&part.file), COLUMNS - NAME);
        if part.silent {
            text.push_str(": silent here");
        } else {
            text.push_str(&format!(": {}", count(part.onsets_s.len() as u64, "onset")));
        }
        if let (Some(offset), Some(spread)) = (part.offset_ms, part.spread_ms) {
            text.push_str(&format!(
                "; offset {}, spread {}",
                signed(Some(offset), "ms"),
                value(Some(spread), "ms")
            ));
        }
        page.row(&part.role, &text);
        if let Some(ceiling) = &part.ceiling {
            page.row("", &words::heard_alone(&ceiling.says));
        }
        if let Some(doubt) = part.doubt() {
            page.row("", &doubt);
        }
    }
    let doubles = report.timing.iter().flat_map(|timing| &timing.doubles);
    for (number, double) in doubles.enumerate() {
        page.row(if number == 0 { "doubles" } else { "" }, &double.says);
    }
}

/// The page as it grows.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn gap(&mut self) {
        self.text.push('\n');
    }

    /// A name and its text, wrapped under itself.
    fn row(&mut self, name: &str, text: &str) {
        self.row_styled(name, text, style::PLAIN);
    }

    fn row_styled(&mut self, name: &str, text: &str, style: style::Paint) {
        let name = style.or_bold().paint(&format!("{name:11}"));
        self.paragraph(&format!("  {name} "), NAME, text);
    }

    /// Text wrapped to the page; `first` goes before its first line and is `indent` columns
    /// wide, or empty.
    fn paragraph(&mut self, first: &str, indent: usize, text: &str) {
        let margin = " ".repeat(indent);
        for (n, line) in textwrap::wrap(text, COLUMNS - indent).iter().enumerate() {
            let before = if n == 0 && !first.is_empty() { first } else { &margin };
            self.line(&format!("{before}{line}"));
        }
    }
}

/// The end of a text that is too long, since a path tells most at its end.
fn from_the_end(text: &str, columns: usize) -> String {
    let width = textwrap::core::display_width;
    if width(text) <= columns {
        return text.to_owned();
    }
    let mut kept = text;
    while width(kept) + 3 > columns {
        let mut chars = kept.chars();
        chars.next();
        kept = chars.as_str();
    }
    format!("...{kept}")
}

/// Text whose control characters cannot move the cursor.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

//! One leak.

use std::sync::Arc;

use egui::{Align2, Galley, Rect, Stroke, StrokeKind, Ui, pos2, vec2};

use brunt_engine::{Cost, LeakKind, Leaks, Need, State};
use brunt_report::report::PartCeilingReport;
use brunt_report::words::{self, links};

use super::super::fonts::{bold, regular};
use super::super::glyph;
use super::super::scene::{Scene, number};
use super::super::text;
use super::super::theme::RADIUS;
use super::scale::Scale;
use crate::words::editor as say;

/// Most rows of text of one kind.
const MOST_ROWS: usize = 9;

/// A row with its texts laid out.
pub struct Row {
    state: State,
    cost: Option<Cost>,
    /// Loss on small speakers, dB, in place of the cost.
    small_db: Option<f64>,
    says: Option<Arc<Galley>>,
    advice: Option<Arc<Galley>>,
    head: f32,
    bar: f32,
    /// Space under the row.
    pub gap: f32,
}

/// Rows of text that each leak gets: what it wants, and by whose order.
struct Wish {
    kind: LeakKind,
    says: String,
    advice: String,
    wants: [usize; 2],
    gets: [usize; 2],
}

/// Lays out all five rows in `room`. Where they do not all fit, the evidence of every leak comes
/// first, then what is said about the leaks that cost most; the whole text is in the tooltip.
pub fn share(ui: &Ui, room: Rect, scene: &Scene<'_>) -> Vec<Row> {
    let sizes = scene.layout.sizes;
    let leaks = &scene.display.readings.leaks;
    let painter = ui.painter();
    let indent = sizes.name * 1.6;
    let widths = [room.width() - indent, room.width() - indent - sizes.body * 1.1];
    let lay = |text: &str, which: usize, rows: usize| {
        let color = if which == 0 { scene.palette.soft } else { scene.palette.text };
        text::balanced(painter, text, regular(sizes.body), color, widths[which], rows)
    };
    let mut wishes: Vec<Wish> = LeakKind::ALL
        .into_iter()
        .map(|kind| {
            let (mut says, mut advice) = told(scene, kind, say::evidence);
            if takes_one_line(leaks, kind, &advice) {
                // The tip has the rest: what matters gets the room.
                (says, advice) = (String::new(), String::new());
            }
            if let Some(section) = say::section(&scene.display.readings, kind) {
                says = say::behind_section(&section, &says);
            }
            if kind == LeakKind::Mids
                && leaks.get(kind).state.loses()
                && let Some(small) = say::small_speaker(&scene.display.readings)
            {
                says = format!("{says} {small}");
            }
            let rows = |text: &str, which| match text {
                "" => 0,
                _ => lay(text, which, MOST_ROWS).rows.len(),
            };
            let wants = [rows(&says, 0), rows(&advice, 1)];
            Wish { kind, says, advice, wants, gets: [wants[0].min(1), 0] }
        })
        .collect();

    let line = lay("x", 0, 1).size().y;
    let head = (sizes.name * 1.55).ceil();
    let known = |kind| leaks.get(kind).state != State::Unknown;
    let bar = |kind| if known(kind) { (sizes.name * 0.62).round() + 5.0 } else { 0.0 };
    let fixed: f32 = LeakKind::ALL.into_iter().map(|kind| head + bar(kind)).sum();
    let least_gap = sizes.body * 0.45;
    let first: usize = wishes.iter().map(|wish| wish.gets[0]).sum();
    let free = room.height() - fixed - least_gap * 4.0 - line * first as f32;
    let mut lines = (free / line).floor().max(0.0) as usize;
    // By urgency: leaking, watch, clear, unknown; and within it advice before more evidence.
    for urgent in [State::Leaking, State::Watch, State::Clear, State::Unknown] {
        // A line at a time, so that one long sentence does not take them all.
        for _round in 0..MOST_ROWS {
            for which in [1, 0] {
                for wish in wishes.iter_mut().filter(|w| leaks.get(w.kind).state == urgent) {
                    if wish.gets[which] < wish.wants[which] && lines > 0 {
                        wish.gets[which] += 1;
                        lines -= 1;
                    }
                }
            }
        }
    }
    let used: f32 = wishes.iter().map(|w| (w.gets[0] + w.gets[1]) as f32 * line).sum();
    let spare = (room.height() - fixed - used) / (wishes.len() - 1) as f32;
    wishes
        .into_iter()
        .map(|wish| {
            let leak = leaks.get(wish.kind);
            Row {
                state: leak.state,
                cost: leaks.headline(wish.kind),
                small_db: small_speakers_db(leaks, wish.kind),
                says: (wish.gets[0] > 0).then(|| lay(&wish.says, 0, wish.gets[0])),
                advice: (wish.gets[1] > 0).then(|| lay(&wish.advice, 1, wish.gets[1])),
                head,
                bar: bar(wish.kind),
                gap: spare.clamp(0.0, sizes.body * 4.0),
            }
        })
        .collect()
}

/// What small speakers lose, dB, where a leak is shown with that.
pub fn small_speakers_db(leaks: &Leaks, kind: LeakKind) -> Option<f64> {
    let mids = (kind == LeakKind::Mids).then_some(&leaks.mids)?;
    words::small_speakers_db(mids.state, mids.carry_db, mids.cost.map(|cost| cost.db))
}

/// Whether a leak is clear and there is nothing to do about it: it shows its name and its cost alone.
fn takes_one_line(leaks: &Leaks, kind: LeakKind, advice: &str) -> bool {
    leaks.get(kind).state == State::Clear && !advice.contains(words::EASE_THE_DRUMS)
}

/// Evidence and advice: the parts' own words where they have shown the leak, else those of the
/// mix alone, its evidence put in words by `evidence`.
pub fn told(
    scene: &Scene<'_>,
    kind: LeakKind,
    evidence: impl Fn(&Leaks, LeakKind) -> String,
) -> (String, String) {
    let leaks = &scene.display.readings.leaks;
    let part = scene.role.part().is_some();
    match scene.display.linked.said(kind) {
        Some(said) => (said.says.clone(), said.advice.clone()),
        None if !scene.role.is_metered() || (part && leaks.get(kind).need == Need::Mix) => {
            (links::PART_LEAK.to_owned(), String::new())
        }
        None => {
            let (says, advice) = (evidence(leaks, kind), words::advice(leaks, kind));
            let state = leaks.get(kind).state;
            let masks = kind == LeakKind::Ceiling && !state.loses();
            match masks.then(|| taken_alone(scene)).flatten() {
                Some(alone) => (format!("{alone} {says}"), words::ease_the_drums(state, &advice)),
                None => (says, advice),
            }
        }
    }
}

/// What is taken from the own hits of the part that loses most.
fn taken_alone(scene: &Scene<'_>) -> Option<String> {
    let ceilings = scene.display.linked.parts.iter().filter_map(|part| {
        let ceiling = part.ceiling.as_ref()?;
        Some((part, ceiling, ceiling.taken()?))
    });
    let (part, _, taken) = ceilings.max_by(|(_, a, _), (_, b, _)| {
        let db = |ceiling: &PartCeilingReport| ceiling.implied_reduction_db.unwrap_or(0.0);
        a.state.cmp(&b.state).then(db(a).total_cmp(&db(b)))
    })?;
    Some(links::taken_alone(&part.name, part.role, &taken))
}

impl Row {
    /// Height without the gap under it, logical pixels.
    #[must_use]
    pub fn height(&self) -> f32 {
        let height = |galley: &Option<Arc<Galley>>| galley.as_ref().map_or(0.0, |g| g.size().y);
        self.head + self.bar + height(&self.says) + height(&self.advice)
    }

    /// Draws the row.
    pub fn paint(&self, ui: &Ui, place: Rect, kind: LeakKind, scale: &Scale, scene: &Scene<'_>) {
        let (p, sizes) = (scene.palette, scene.layout.sizes);
        let painter = ui.painter();
        let quiet = self.state == State::Unknown;
        let urgent = self.state.loses();
        let left = scale.left();
        let middle = place.top() + self.head / 2.0 - 1.0;
        let sign = pos2(place.left() + sizes.name * 0.6, middle);
        glyph::state(painter, sign, sizes.name * 1.15, self.state, p);

        let color = if quiet { p.soft } else { p.text };
        let font = if quiet { regular(sizes.name) } else { bold(sizes.name) };
        let at = pos2(left, middle);
        let name = words::leak_name(kind);
        let name = text::line(painter, at, Align2::LEFT_CENTER, name, font, color);
        self.paint_state(ui, pos2(name.right() + sizes.label * 0.9, middle), scene);

        if let Some(db) = self.small_db.or(self.cost.map(|cost| cost.db)) {
            let right = pos2(place.right(), middle + sizes.name * 0.25);
            let unit = text::line(
                painter,
                right,
                Align2::RIGHT_CENTER,
                "dB",
                regular(sizes.label),
                p.soft,
            );
            let at = pos2(unit.left() - 3.0, right.y - sizes.value * 0.06);
            let strong = if urgent { p.copper } else { p.text };
            let figure = number(Some(db));
            let figure =
                text::line(painter, at, Align2::RIGHT_CENTER, &figure, bold(sizes.value), strong);
            if self.small_db.is_some() {
                let at = pos2(figure.left() - sizes.label * 0.6, right.y);
                let font = regular(sizes.label);
                text::line(
                    painter,
                    at,
                    Align2::RIGHT_CENTER,
                    words::ON_SMALL_SPEAKERS,
                    font,
                    p.soft,
                );
            }
        }
        if self.bar > 0.0 {
            let top = place.top() + self.head + 1.0;
            let tone = if self.state == State::Clear { p.edge } else { p.copper };
            scale.paint_bar(ui, top, self.bar - 5.0, self.cost, tone, scene);
        }
        let mut top = place.top() + self.head + self.bar;
        if let Some(says) = &self.says {
            painter.galley(pos2(left, top), Arc::clone(says), p.soft);
            top += says.size().y;
        }
        if let Some(advice) = &self.advice {
            let indent = sizes.body * 1.1;
            let tip = pos2(left + sizes.body * 0.35, top + sizes.body * 0.72);
            glyph::advice(painter, tip, sizes.body * 0.6, if urgent { p.text } else { p.soft });
            let color = if urgent { p.text } else { p.soft };
            let at = pos2(left + indent, top);
            painter.galley_with_override_text_color(at, Arc::clone(advice), color);
        }
    }

    /// The word for the state: on copper when leaking, framed on watch, plain otherwise.
    fn paint_state(&self, ui: &Ui, at: egui::Pos2, scene: &Scene<'_>) {
        let (p, size) = (scene.palette, scene.layout.sizes.label);
        let painter = ui.painter();
        let word = words::state_word(self.state);
        let font = if self.state == State::Leaking { bold(size) } else { regular(size) };
        let color = match self.state {
            State::Leaking => p.on_copper,
            State::Watch => p.copper,
            State::Clear | State::Unknown => p.soft,
        };
        let galley = painter.layout_no_wrap(word.to_owned(), font, color);
        let pad = match self.state {
            State::Leaking | State::Watch => vec2(size * 0.55, 0.0),
            State::Clear | State::Unknown => vec2(0.0, 0.0),
        };
        let rect = Align2::LEFT_CENTER.anchor_size(at, galley.size() + 2.0 * pad);
        match self.state {
            State::Leaking => {
                painter.rect_filled(rect, RADIUS, p.copper);
            }
            State::Watch => {
                let frame = Stroke::new(1.25, p.copper);
                painter.rect_stroke(rect, RADIUS, frame, StrokeKind::Inside);
            }
            State::Clear | State::Unknown => {}
        }
        painter.galley(rect.min + pad, galley, color);
    }
}

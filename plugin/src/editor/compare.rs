//! This version of the mix against the mix before the limiter, a reference, a kept pass: the shape of
//! a hit, the spectra, the numbers.

mod numbers;
mod other;
mod shape;
mod spectrum;

use egui::{Rect, Ui, pos2, vec2};

use brunt_engine::Compare;
use brunt_engine::parts::Drum;
use brunt_report::report::DrumShape;
use brunt_report::words::{self, shape as say};

use super::change;
use super::fonts::regular;
use super::panel;
use super::parts;
use super::scene::Scene;
use super::state::ViewState;

pub use super::state::Picture;
use super::text;
use crate::words::views;

const PICTURES: [Picture; 3] = [Picture::Shape, Picture::Spectrum, Picture::Numbers];

/// Draws the view.
pub fn show(ui: &Ui, rect: Rect, scene: &Scene<'_>, state: &mut ViewState) {
    let side = &scene.display.readings.side;
    let heard = side.integrated_lufs.is_some() || side.signal;
    if !heard && scene.display.shape.is_none() {
        parts::empty(ui, rect, scene, views::NO_COMPARE, &[views::NO_COMPARE_HOW], &[]);
        return;
    }
    let mut rest = rect;
    rest.min.y = choose(ui, rect, scene, state) + scene.layout.gap * 0.5;
    if let Some(compare) = &scene.display.readings.compare {
        rest.min.y = stands(ui, rest, scene, compare) + scene.layout.gap * 0.5;
    }
    match state.compare {
        Picture::Shape => {
            let shapes = drum_shapes(scene);
            let at = shapes.into_iter().find(|at| state.drum.as_ref() == Some(&at.drum));
            shape::show(ui, rest, scene, change::chosen(scene, state), at);
        }
        Picture::Spectrum => spectrum::show(ui, rest, scene),
        Picture::Numbers => numbers::show(ui, rest, scene),
    }
}

/// The choice of the picture; gives its bottom.
fn choose(ui: &Ui, rect: Rect, scene: &Scene<'_>, state: &mut ViewState) -> f32 {
    let look = scene.look();
    let labels = [say::SHAPE, say::SPECTRUM, say::NUMBERS];
    let names = labels.map(|label| format!("{}: {label}", views::COMPARE));
    let names = [&*names[0], &*names[1], &*names[2]];
    let top = rect.top() + scene.layout.gap * 0.25;
    let size = vec2(look.choices_width(ui, &labels), scene.layout.control);
    let row = Rect::from_min_size(pos2(rect.left(), top), size);
    let taken = PICTURES.iter().position(|other| *other == state.compare).unwrap_or(0);
    let id = scene.id(ui, "compare pictures");
    if let Some(new) = look.choices(ui, row, id, &labels, &names, &say::TIPS, taken) {
        state.compare = PICTURES[new];
        ui.ctx().request_repaint();
    }
    if state.compare == Picture::Shape {
        choose_drum(ui, row, scene, state);
    }
    row.bottom()
}

/// The shape at each drum that the linked parts play, that of most hits where several hear it.
fn drum_shapes<'a>(scene: &Scene<'a>) -> Vec<&'a DrumShape> {
    let of = |drum: Drum| {
        let shapes = scene.display.drum_shapes.iter().filter(|at| at.drum == drum.code());
        shapes.max_by_key(|at| at.shape.hits)
    };
    Drum::ALL.into_iter().filter_map(of).collect()
}

/// The choice of the drum, behind that of the picture.
fn choose_drum(ui: &Ui, pictures: Rect, scene: &Scene<'_>, state: &mut ViewState) {
    let shapes = drum_shapes(scene);
    if shapes.is_empty() {
        return;
    }
    let look = scene.look();
    let mut labels = vec![say::ALL_HITS];
    labels.extend(shapes.iter().map(|at| say::drum(&at.drum)));
    let names: Vec<String> =
        labels.iter().map(|label| format!("{}: {label}", say::SHAPE)).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut tips = vec![say::ALL_HITS_TIP];
    tips.resize(labels.len(), say::DRUM_TIP);
    let size = vec2(look.choices_width(ui, &labels), scene.layout.control);
    let row = Rect::from_min_size(pictures.right_top() + vec2(scene.layout.gap, 0.0), size);
    let drum = |at: &&DrumShape| state.drum.as_ref() == Some(&at.drum);
    let taken = shapes.iter().position(drum).map_or(0, |place| place + 1);
    let id = scene.id(ui, "compare drums");
    if let Some(new) = look.choices(ui, row, id, &labels, &names, &tips, taken) {
        state.drum = new.checked_sub(1).map(|place| shapes[place].drum.clone());
        ui.ctx().request_repaint();
    }
}

/// What the side-chain was found to carry; gives the bottom of the lines.
fn stands(ui: &Ui, rect: Rect, scene: &Scene<'_>, compare: &Compare) -> f32 {
    let (p, sizes) = (scene.palette, scene.layout.sizes);
    let line = words::compare_stands(compare);
    let rows = if scene.layout.small { 2 } else { 3 };
    let galley =
        text::balanced(ui.painter(), &line, regular(sizes.body), p.text, rect.width(), rows);
    let bottom = rect.top() + galley.size().y;
    ui.painter().galley(rect.min, galley, p.text);
    let spot = Rect::from_x_y_ranges(rect.x_range(), rect.top()..=bottom);
    panel::spot(ui, spot, scene.id(ui, "compare stands"), &line, |ui| {
        panel::tip(ui, p, views::COMPARE, &[&line, views::VIEW_TIPS[3]]);
    });
    bottom
}

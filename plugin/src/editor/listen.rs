//! What is heard: the choice, and the sign that is on while it is not the mix.

use egui::{Rect, Ui, pos2};

use brunt_report::words;

use super::notice::Banner;
use super::scene::Scene;
use super::text;
use crate::audition::limits::MAX_GAIN_DB;
use crate::audition::{Heard, Status};
use crate::display::{Controls, Display};
use crate::words::audition as say;

/// What can be heard, in the order in which it is shown.
const HEARD: [Heard; 3] = [Heard::Mix, Heard::Side, Heard::Difference];

/// Draws the choice at the right end of the line; gives where it begins.
pub fn choice(ui: &Ui, rect: Rect, scene: &Scene<'_>, controls: &mut dyn Controls) -> f32 {
    let (p, layout) = (scene.palette, scene.layout);
    let size = layout.sizes.label;
    let look = scene.look();
    let labels = if layout.small {
        [say::MIX, say::SIDE_SHORT, say::DIFFERENCE_SHORT]
    } else {
        [say::MIX, say::SIDE, say::DIFFERENCE]
    };
    let names = [say::MIX, say::SIDE, say::DIFFERENCE].map(|n| format!("{}: {n}", say::LISTEN));
    let names = [&*names[0], &*names[1], &*names[2]];
    let tips = [say::MIX_TIP, say::SIDE_TIP, say::DIFFERENCE_TIP].map(careful);
    let tips = [&*tips[0], &*tips[1], &*tips[2]];
    let right = rect.right() - layout.gap;
    let middle = rect.center().y;
    let row = Rect::from_x_y_ranges(
        right - look.choices_width(ui, &labels)..=right,
        middle - layout.control / 2.0..=middle + layout.control / 2.0,
    );
    let taken = HEARD.iter().position(|h| *h == controls.listen()).unwrap_or(0);
    let id = scene.id(ui, "listen");
    if let Some(new) = look.choices(ui, row, id, &labels, &names, &tips, taken) {
        controls.set_listen(HEARD[new]);
    }
    let width = text::title_width(ui.painter(), say::LISTEN, size, p.soft);
    let at = pos2(row.left() - 12.0 - width, middle - size * 0.69);
    text::title(ui.painter(), at, say::LISTEN, size, p.soft);
    at.x
}

/// A tip with the lines of caution below it.
fn careful(tip: &'static str) -> String {
    if tip == say::MIX_TIP {
        return tip.to_owned();
    }
    format!("{tip}\n\n{}", words::caution().join("\n"))
}

/// The match in a few words beside the side-chain's level; `None` where there is none to tell.
#[must_use]
pub fn match_beside(display: &Display) -> Option<String> {
    let (status, _) = &display.listening;
    say::matched_short(status.gain_db, status.found.is_some_and(|found| found.sure))
}

/// The sign, while anything but the mix is heard or asked for.
#[must_use]
pub fn sign(display: &Display, asked: Heard) -> Option<Banner> {
    let (status, held) = &display.listening;
    if let Some(held) = held {
        let (fact, how) = say::held(*held);
        return Some(Banner { fact, how: how.to_owned(), more: Vec::new(), news: false });
    }
    let heard = if status.heard == Heard::Mix { asked } else { status.heard };
    if heard == Heard::Mix {
        return None;
    }
    let how = [Some(matched(status)), say::guard(status.guard_db)];
    Some(Banner {
        fact: say::heard(heard),
        how: how.into_iter().flatten().collect::<Vec<_>>().join(" "),
        more: words::caution().to_vec(),
        news: false,
    })
}

fn matched(status: &Status) -> String {
    let found = status.found.unwrap_or_default();
    say::matched(status.gain_db, found.passage_s, found.sure, status.out_of_reach_lu, MAX_GAIN_DB)
}

//! Target `view`: the editor draws the pass of a hostile session, at any size, in every view.

use std::cell::RefCell;

use arbitrary::{Result, Unstructured};
use brunt::editor::view::{self, ViewState};
use brunt::editor::views::View;
use brunt::kept::KeptPass;
use brunt::state::SavedPass;
use brunt_report::bounds;
use egui::{Context, Event, PointerButton, Pos2, RawInput, Rect, UiBuilder, Vec2, pos2, vec2};

use crate::{json, sample};

#[path = "../../editor/fake.rs"]
mod fake;

thread_local! {
    static CONTEXT: RefCell<Context> = RefCell::new({
        let context = Context::default();
        view::prepare(&context);
        context
    });
}

pub fn run(bytes: &[u8]) {
    let _ = draw(&mut Unstructured::new(bytes));
}

fn draw(u: &mut Unstructured) -> Result<()> {
    let mut pass = sample::PASS.clone();
    json::edit(&mut pass, u)?;
    // As the plug-in does when it reads a session.
    if bounds::check(&pass).is_err() {
        return Ok(());
    }
    let Ok(pass) = serde_json::from_value::<SavedPass>(pass) else { return Ok(()) };
    let mut display = sample::display(pass);
    if u.arbitrary()? {
        let text = sample::STATE["fields"]["kept"].as_str().unwrap_or("[]");
        let mut kept = serde_json::from_str(text).unwrap_or_default();
        json::edit(&mut kept, u)?;
        if bounds::check(&kept).is_err() {
            return Ok(());
        }
        let bridge = brunt::bridge::Bridge::default();
        bridge.restore_kept(serde_json::from_value::<Vec<KeptPass>>(kept).unwrap_or_default());
        display.kept = bridge.kept();
    }
    let mut controls = fake::Fake::default();
    let view = *u.choose(&[View::Hits, View::Song, View::Parts, View::Compare])?;
    let mut state = ViewState::default();
    state.view = view;
    let size = vec2(side(u)?, side(u)?);
    for _ in 0..3 {
        let events = pointer(size, u)?;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            events,
            ..RawInput::default()
        };
        CONTEXT.with_borrow_mut(|context| {
            let mut output = context.run_ui(input, |ui| {
                let whole = ui.ctx().content_rect();
                let mut ui = ui.new_child(UiBuilder::new().max_rect(whole));
                view::show(&mut ui, &display, &mut controls, &mut state);
            });
            // Nothing draws them here.
            output.textures_delta.clear();
        });
    }
    Ok(())
}

fn side(u: &mut Unstructured) -> Result<f32> {
    Ok(*u.choose(&[1.0, 40.0, 400.0, 640.0, 960.0, 1920.0])?)
}

/// The pointer somewhere in the window, with a wheel and a button.
fn pointer(size: Vec2, u: &mut Unstructured) -> Result<Vec<Event>> {
    let part = |u: &mut Unstructured| Ok(f32::from(u.arbitrary::<u8>()?) / 255.0);
    let at = pos2(part(u)? * size.x, part(u)? * size.y);
    let button = |pressed| Event::PointerButton {
        pos: at,
        button: PointerButton::Primary,
        pressed,
        modifiers: egui::Modifiers::default(),
    };
    let mut events = vec![Event::PointerMoved(at)];
    if u.arbitrary()? {
        events.push(button(u.arbitrary()?));
    }
    Ok(events)
}

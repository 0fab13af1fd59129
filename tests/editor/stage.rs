//! Runs the view headless.

use std::cell::RefCell;
use std::rc::Rc;

use brunt::Theme;
use brunt::display::Display;
use brunt::editor::view::{self, ViewState};
use egui::{TexturesDelta, UiBuilder, Vec2};
use egui_kittest::{Harness, TestRenderer};

use crate::fake::Fake;
use crate::render::{self, Picture, Textures};

/// What one frame works on.
pub struct World {
    pub display: Display,
    pub controls: Fake,
    pub state: ViewState,
}

/// The view, running.
pub struct Stage {
    pub harness: Harness<'static, World>,
    textures: Rc<RefCell<Textures>>,
}

/// Keeps the textures for [`Stage::picture`].
struct Keep(Rc<RefCell<Textures>>);

impl TestRenderer for Keep {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        self.0.borrow_mut().apply(delta);
    }
}

impl Stage {
    /// `size` in logical pixels, `scale` in physical pixels for each of them.
    pub fn new(display: Display, size: Vec2, scale: f32, theme: Theme) -> Self {
        let textures = Rc::new(RefCell::new(Textures::default()));
        let world = World {
            display,
            controls: Fake { theme, ..Fake::default() },
            state: ViewState::default(),
        };
        let harness = Harness::builder()
            .with_size(size)
            .with_pixels_per_point(scale)
            .with_context_setup(view::prepare)
            .renderer(Keep(Rc::clone(&textures)))
            .build_ui_state(
                |ui, world: &mut World| {
                    // The harness keeps a margin; a window has none.
                    let whole = ui.ctx().content_rect();
                    let mut ui = ui.new_child(UiBuilder::new().max_rect(whole));
                    ui.set_clip_rect(whole);
                    view::show(&mut ui, &world.display, &mut world.controls, &mut world.state);
                },
                world,
            );
        let mut stage = Self { harness, textures };
        stage.harness.run();
        stage
    }

    /// The last frame, drawn.
    pub fn picture(&self) -> Picture {
        let output = self.harness.output();
        let scale = output.pixels_per_point;
        let size = self.harness.ctx.content_rect().size() * scale;
        let parts = self.harness.ctx.tessellate(output.shapes.clone(), scale);
        render::draw(&parts, &self.textures.borrow(), size, scale)
    }

    /// Draws the last frame into the target directory, to be looked at.
    pub fn save(&self, name: &str) -> Picture {
        let picture = self.picture();
        let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("editor");
        std::fs::create_dir_all(&folder).expect("folder for the pictures");
        picture.save(&folder.join(format!("{name}.png")));
        picture
    }
}

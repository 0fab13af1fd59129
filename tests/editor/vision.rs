//! Colour blindness: the four states stay apart by shape alone, and text and signs stay readable,
//! under simulations of the three kinds of dichromacy.
//!
//! Simulation: Machado, Oliveira & Fernandes (2009), severity 1.0, on linear RGB. Matrices from
//! memory; each row adds up to 1, so greys stay greys.

use brunt::Theme;
use brunt::editor::glyph;
use brunt::editor::theme::Palette;
use brunt_engine::State;
use egui::{Color32, Vec2, pos2};

use crate::render::{self, Picture, Textures};

type Matrix = [[f64; 3]; 3];

const SIMULATIONS: [(&str, Matrix); 3] = [
    (
        "protanopia",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

fn linear(color: Color32) -> [f64; 3] {
    [color.r(), color.g(), color.b()].map(|byte| {
        let s = f64::from(byte) / 255.0;
        if s <= 0.040_45 { s / 12.92 } else { ((s + 0.055) / 1.055).powf(2.4) }
    })
}

/// Linear RGB as seen.
fn seen(color: Color32, matrix: &Matrix) -> [f64; 3] {
    let rgb = linear(color);
    matrix.map(|row| row.iter().zip(rgb).map(|(m, x)| m * x).sum::<f64>().clamp(0.0, 1.0))
}

/// Contrast ratio of two colours as seen, WCAG 2.2.
fn contrast(a: Color32, b: Color32, matrix: &Matrix) -> f64 {
    let luminance = |color| {
        let [r, g, b] = seen(color, matrix);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn greys_stay_greys() {
    for (name, matrix) in &SIMULATIONS {
        for row in matrix {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}: {row:?}");
        }
    }
}

#[test]
fn texts_and_signs_stay_readable() {
    for theme in [Theme::Dark, Theme::Light] {
        let palette = Palette::of(theme);
        for (simulation, matrix) in &SIMULATIONS {
            let texts = palette.text_pairs().map(|pair| (pair, 4.5));
            let signs = palette.sign_pairs().into_iter().map(|pair| (pair, 3.0));
            for ((name, ink, fill), least) in texts.into_iter().chain(signs) {
                let ratio = contrast(ink, fill, matrix);
                assert!(ratio >= least, "{theme:?}, {simulation}, {name}: {ratio:.2}:1");
            }
        }
    }
}

/// The sign of a state in one ink on one ground: what is left of it without any colour.
fn sign(state: State, size: f32) -> Picture {
    let (ink, ground) = (Color32::WHITE, Color32::BLACK);
    let mut palette = *Palette::of(Theme::Dark);
    (palette.bone, palette.copper, palette.edge, palette.text) = (ink, ink, ink, ink);
    palette.panel = ground;
    let ctx = egui::Context::default();
    let mut textures = Textures::default();
    let mut output = ctx.run_ui(egui::RawInput::default(), |ui| {
        let center = pos2(size, size);
        glyph::state(ui.painter(), center, size, state, &palette);
    });
    textures.apply(&mut output.textures_delta);
    let parts = ctx.tessellate(output.shapes, 1.0);
    render::draw(&parts, &textures, Vec2::splat(2.0 * size), 1.0)
}

/// The smallest size that the screen uses is about 13 pixels.
#[test]
fn states_differ_by_shape_alone() {
    const STATES: [State; 4] = [State::Unknown, State::Clear, State::Watch, State::Leaking];
    for size in [13.0, 17.0, 26.0] {
        let signs = STATES.map(|state| sign(state, size));
        for (i, one) in signs.iter().enumerate() {
            for (k, other) in signs.iter().enumerate().skip(i + 1) {
                let pairs = || one.pixels.iter().zip(&other.pixels);
                let sum = |of: &dyn Fn(f64, f64) -> f64| {
                    pairs().map(|(a, b)| of(f64::from(a.r()), f64::from(b.r()))).sum::<f64>()
                };
                // Shared ink over all ink: 1 for the same sign, 0 for nothing in common.
                let common = sum(&f64::min) / sum(&f64::max).max(1.0);
                let (one, other) = (STATES[i], STATES[k]);
                assert!(common < 0.6, "{one:?} and {other:?} at {size}: {common:.2} in common");
            }
        }
        let ink = |picture: &Picture| picture.pixels.iter().filter(|p| p.r() > 60).count();
        assert!(signs.iter().all(|picture| ink(picture) > 8), "a sign is blank at {size}");
    }
}

//! Own time of a frame, and frames that are not needed.

use std::time::Instant;

use brunt::Theme;
use brunt::editor::views::View;
use egui::vec2;

use crate::sample;
use crate::stage::Stage;

#[test]
fn no_frame_is_asked_for_while_nothing_changes() {
    for display in [sample::empty(), sample::ceiling()] {
        let mut stage = Stage::new(display, vec2(960.0, 600.0), 1.0, Theme::Dark);
        let steps = stage.harness.run();
        assert_eq!(steps, 1, "settled, and still asks for frames");
        let root = &stage.harness.output().viewport_output[&egui::ViewportId::ROOT];
        assert_eq!(root.repaint_delay, std::time::Duration::MAX, "not even later");
    }
}

/// Run with `--release -- --ignored --nocapture`: prints the median of layout and tessellation,
/// ours and egui's together, with the newest hit moved every frame. The aim is 2 ms or less.
#[test]
#[ignore = "a time, not a check of right and wrong; see the comment"]
fn time_of_a_frame() {
    let sizes = [((960.0, 600.0), 1.0), ((1440.0, 900.0), 2.0)];
    let views = [View::Hits, View::Compare];
    for ((size, scale), view) in sizes.into_iter().flat_map(|size| views.map(|view| (size, view))) {
        let mut stage = Stage::new(sample::shaved(), vec2(size.0, size.1), scale, Theme::Dark);
        stage.harness.state_mut().state.view = view;
        let mut times: Vec<f64> = (0..400)
            .map(|_| {
                let world = stage.harness.state_mut();
                world.display.readings.time_s += 1.0 / 60.0;
                world.display.live.momentary_lufs =
                    world.display.live.momentary_lufs.map(|m| -9.0 - (m * 7.3).fract().abs());
                let start = Instant::now();
                stage.harness.step();
                let output = stage.harness.output();
                let shapes = output.shapes.clone();
                let parts = stage.harness.ctx.tessellate(shapes, output.pixels_per_point);
                std::hint::black_box(parts);
                start.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let (median, most) = (times[times.len() / 2], times[times.len() * 99 / 100]);
        println!(
            "{view:?}, {size:?} at {scale}: median {median:.3} ms, 99th percentile {most:.3} ms"
        );
        assert!(median < 16.0, "median {median:.3} ms: not even 60 frames a second");
    }
}

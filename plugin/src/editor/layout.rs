//! Where each panel stands.

use egui::{Rect, Vec2, pos2, vec2};

use super::fonts::{LARGE, MEDIUM, SMALL, Sizes};

/// Smallest size, logical pixels, in which everything has room. A smaller window scrolls.
pub const MIN_SIZE: Vec2 = vec2(640.0, 400.0);

/// The panels of one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layout {
    /// Sizes of text.
    pub sizes: Sizes,
    /// Inner margin of a panel, and the gap between panels.
    pub gap: f32,
    /// Height of a control.
    pub control: f32,
    /// Name, stream and controls of the window.
    pub header: Rect,
    /// What stands in the way of the readings; no height when there is nothing.
    pub banner: Rect,
    /// The hits.
    pub hits: Rect,
    /// Loudness and peaks.
    pub readings: Rect,
    /// Low, mid and high.
    pub balance: Rect,
    /// The leaks.
    pub leaks: Rect,
    /// The side-chain.
    pub strip: Rect,
    /// Whether there is little room.
    pub small: bool,
}

impl Layout {
    /// Divides `window`, logical pixels; `banners` lines of banner are on.
    #[must_use]
    pub fn new(window: Rect, banners: usize) -> Self {
        let (w, h) = (window.width(), window.height());
        let small = w < 860.0 || h < 540.0;
        let large = w >= 1280.0 && h >= 800.0;
        let (sizes, gap, bar, control, bottom) = match (small, large) {
            (true, _) => (SMALL, 8.0, 32.0, 18.0, 114.0),
            (_, true) => (LARGE, 16.0, 52.0, 26.0, 184.0),
            _ => (MEDIUM, 12.0, 44.0, 22.0, 152.0),
        };
        let banner_h = banners as f32 * (sizes.body * 2.0).round();
        let header = Rect::from_min_size(window.min, vec2(w, bar));
        let banner = Rect::from_min_size(pos2(window.left(), header.bottom()), vec2(w, banner_h));
        let strip = Rect::from_min_max(pos2(window.left(), window.bottom() - bar), window.max);

        let top = banner.bottom() + if banners > 0 { gap } else { 0.0 };
        let body = Rect::from_min_max(
            pos2(window.left() + gap, top),
            pos2(window.right() - gap, strip.top()),
        );
        let right = (w * 0.385).clamp(250.0, 620.0).round();
        let split = body.right() - right;
        let leaks = Rect::from_min_max(pos2(split, body.top()), body.max);
        let left = split - gap;
        let low_top = body.bottom() - bottom;
        let hits = Rect::from_min_max(body.min, pos2(left, low_top - gap));
        let balance_w = ((left - body.left()) * 0.29).max(112.0).round();
        let balance =
            Rect::from_min_max(pos2(left - balance_w, low_top), pos2(left, body.bottom()));
        let readings = Rect::from_min_max(
            pos2(body.left(), low_top),
            pos2(balance.left() - gap, body.bottom()),
        );
        Self { sizes, gap, control, header, banner, hits, readings, balance, leaks, strip, small }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panels_stand_apart_and_inside_at_every_size() {
        for (w, h) in
            [(640.0, 400.0), (960.0, 600.0), (1440.0, 900.0), (640.0, 1200.0), (2560.0, 500.0)]
        {
            for banners in 0..3 {
                let window = Rect::from_min_size(pos2(0.0, 0.0), vec2(w, h));
                let l = Layout::new(window, banners);
                let panels = [l.header, l.hits, l.readings, l.balance, l.leaks, l.strip];
                for (i, a) in panels.iter().enumerate() {
                    assert!(window.contains_rect(*a), "{w}x{h}: {a:?}");
                    assert!(a.width() > 60.0 && a.height() > 24.0, "{w}x{h}: {a:?}");
                    for b in &panels[i + 1..] {
                        let common = a.intersect(*b);
                        assert!(
                            common.width() <= 0.0 || common.height() <= 0.0,
                            "{w}x{h}: {a:?} and {b:?}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn the_hits_are_the_largest_area_as_the_window_opens() {
        let l = Layout::new(Rect::from_min_size(pos2(0.0, 0.0), vec2(960.0, 600.0)), 0);
        for other in [l.readings, l.balance, l.leaks, l.strip, l.header] {
            assert!(l.hits.area() > other.area(), "{:?} against {other:?}", l.hits);
        }
    }
}

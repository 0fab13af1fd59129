//! The largest samples of a stretch, and how flat it is on top.

use wide::f32x4;

use crate::MAX_CHANNELS;
use crate::lanes::{LANES, larger, largest};
use crate::thresholds as t;

/// The tops of a stretch.
#[derive(Default)]
pub(crate) struct Tops {
    /// Most samples of one channel that lie within [`t::FLAT_SHARE`] of the channel's largest
    /// magnitude: a smooth peak has one or two, a clipped one a run.
    pub(crate) flat: u16,
    /// Largest sample of either sign, over channels: up, down.
    pub(crate) sides: [f32; 2],
}

/// Tops of a stretch, a slice a channel.
pub(crate) fn tops(main: [&[f32]; MAX_CHANNELS]) -> Tops {
    let mut tops = Tops::default();
    for samples in main {
        let (fours, rest) = samples.as_chunks::<LANES>();
        let (mut up, mut down) = (f32x4::ZERO, f32x4::ZERO);
        for four in fours {
            let x = f32x4::new(*four);
            (up, down) = (up.fast_max(x), down.fast_max(-x));
        }
        let (mut up, mut down) = (largest(up), largest(down));
        for &x in rest {
            (up, down) = (larger(up, x), larger(down, -x));
        }
        tops.sides = [larger(tops.sides[0], up), larger(tops.sides[1], down)];
        let peak = larger(up, down);
        if peak > 0.0 {
            let floor = peak * t::FLAT_SHARE;
            let flat = samples.iter().map(|x| u32::from(x.abs() >= floor)).sum::<u32>() as u16;
            tops.flat = tops.flat.max(flat);
        }
    }
    tops
}

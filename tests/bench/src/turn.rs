//! One turn: a whole signal through a meter, a block at a time.

use std::error::Error;
use std::time::{Duration, Instant};

use brunt_engine::{Config, Meter, SideRole};
use ebur128::{EbuR128, Mode};

use crate::signal::Planes;

/// A meter with everything on.
pub fn meter(rate: u32, side: bool) -> Result<Meter, Box<dyn Error>> {
    let mut meter = Meter::new(Config { sample_rate_hz: f64::from(rate), channels: 2 })?;
    if side {
        meter.set_side_role(SideRole::Before);
    }
    Ok(meter)
}

/// The reference with everything on.
pub fn reference(rate: u32) -> Result<EbuR128, Box<dyn Error>> {
    Ok(EbuR128::new(2, rate, Mode::all())?)
}

/// Measures all of it. Never inlined: callgrind counts by its name.
#[inline(never)]
pub fn measure(meter: &mut Meter, main: &Planes, side: Option<&Planes>, block: usize) {
    for (main, side) in blocks(main, side, block) {
        meter.process(&main, side.as_ref().map(|side| &side[..]), &mut ());
    }
}

/// The same by the reference.
#[inline(never)]
pub fn measure_reference(reference: &mut EbuR128, bus: &Planes, block: usize) {
    for (main, _) in blocks(bus, None, block) {
        // Planes of one length each: it cannot fail.
        let _ = std::hint::black_box(reference.add_frames_planar_f32(&main));
    }
}

/// Blocks of both, a slice a channel.
pub fn blocks<'a>(
    main: &'a Planes,
    side: Option<&'a Planes>,
    block: usize,
) -> impl Iterator<Item = ([&'a [f32]; 2], Option<[&'a [f32]; 2]>)> {
    (0..main.frames()).step_by(block).map(move |at| {
        let to = (at + block).min(main.frames());
        (main.part(at, to), side.map(|side| side.part(at, to)))
    })
}

/// How long `work` takes.
pub fn time(work: impl FnOnce()) -> Duration {
    let started = Instant::now();
    work();
    started.elapsed()
}

//! What part meters cost beside a meter of the mix.

use super::RATE;
use brunt_engine::parts::PartMeter;
use brunt_engine::{Config, Meter};
use brunt_tests::corpus::CorpusError;
use brunt_tests::corpus::mix::Library;
use brunt_tests::session::{render, tuning};
use std::time::Instant;

/// Parts of the session that the bar is stated for.
const PARTS: usize = 32;

/// Prints the share of one core that 32 part meters and one meter of the mix take, at 48 kHz.
pub fn print() -> Result<(), CorpusError> {
    let plan = tuning::all().swap_remove(0);
    let session = render(&plan, RATE, &mut Library::default())?;
    let audio = session.mix();
    let config = Config { sample_rate_hz: f64::from(RATE), channels: 2 };
    let (Ok(mut part), Ok(mut meter)) = (PartMeter::new(config), Meter::new(config)) else {
        return Ok(());
    };
    // The quickest of many seconds: other programs only ever make one slower.
    let second = RATE as usize;
    let (mut one, mut mix) = (f64::INFINITY, f64::INFINITY);
    for (left, right) in audio.left.chunks_exact(second).zip(audio.right.chunks_exact(second)) {
        let blocks = || left.chunks(512).zip(right.chunks(512));
        let start = Instant::now();
        blocks().for_each(|(left, right)| part.process(&[left, right], &mut ()));
        one = start.elapsed().as_secs_f64().min(one);
        let start = Instant::now();
        blocks().for_each(|(left, right)| meter.process(&[left, right], None, &mut ()));
        mix = start.elapsed().as_secs_f64().min(mix);
    }
    println!("one part {:.3} %, the mix {:.3} % of a core", 100.0 * one, 100.0 * mix);
    println!("{PARTS} parts and the mix: {:.2} %", 100.0 * (PARTS as f64 * one + mix));
    Ok(())
}

//! Instances that come and go, to see what they leave behind.

use std::fs::File;
use std::hint::black_box;
use std::mem::forget;
use std::path::Path;

use super::render::play;
use super::{Blocks, Instance, Result, Song, because};

/// Instances opened and closed in turn.
pub const TURNS: usize = 64;
/// The first of them, which fill caches: growth counts from there.
pub const WARM: usize = 16;

/// Loads the plug-in, plays, saves, restores and closes it.
///
/// # Errors
/// When the plug-in cannot do so.
pub fn turn(bundle: &Path, main: &[Vec<f32>]) -> Result<()> {
    let mut plugin = Instance::load_from(bundle)?;
    let mut audio = plugin.activate(48_000.0, 512)?;
    play(&mut audio, &Song { main, ..Song::default() }, &Blocks::Even(512))?;
    let state = plugin.save()?;
    plugin.restore(&state.bytes)?;
    plugin.deactivate(audio);
    Ok(())
}

/// What a check of growth must notice: two hundred kilobytes and a file that nobody gives back.
///
/// # Errors
/// When the program cannot open its own file.
pub fn keep_something() -> Result<()> {
    let own = std::env::current_exe().and_then(File::open);
    forget(own.map_err(|error| because("this program's own file", error))?);
    // The compiler would else leave out what nobody reads.
    forget(black_box(vec![1u8; 200 << 10]));
    Ok(())
}

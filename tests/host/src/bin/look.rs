//! What a user does with the editor first: opens it, plays, looks, closes it, opens it again.
//!
//! `look BUNDLE FOLDER` leaves `first.png` and `again.png` in the folder, and fails where either
//! shows no picture.

use std::error::Error;
use std::f64::consts::TAU;
use std::path::Path;
use std::time::{Duration, Instant};

use brunt_host::render::play;
use brunt_host::window::{Picture, Window};
use brunt_host::{Blocks, Instance, Song};

/// Longest wait for a whole picture: software drawing on a busy machine needs seconds for it.
const PATIENCE: Duration = Duration::from_secs(30);
/// Time for what was measured to reach the screen.
const A_WHILE: Duration = Duration::from_secs(1);

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1);
    let (Some(bundle), Some(folder)) = (arguments.next(), arguments.next()) else {
        return Err("usage: look BUNDLE FOLDER".into());
    };
    let folder = Path::new(&folder);
    let mut plugin = Instance::load_from(Path::new(&bundle))?;
    let mut audio = plugin.activate(48_000.0, 512)?;
    let channel = beat();
    let main = [channel.clone(), channel];
    let song = Song { main: &main, ..Song::default() };

    let mut window = Window::open(&mut plugin, None)?;
    play(&mut audio, &song, &Blocks::Even(512))?;
    let first = look(&mut plugin, &mut window)?;
    first.write_png(&folder.join("first.png"))?;
    window.close(&mut plugin)?;

    play(&mut audio, &song, &Blocks::Even(512))?;
    let mut window = Window::open(&mut plugin, None)?;
    let again = look(&mut plugin, &mut window)?;
    again.write_png(&folder.join("again.png"))?;
    window.close(&mut plugin)?;
    plugin.deactivate(audio);
    if first == again {
        return Err("both pictures are the same, though more was played between them".into());
    }
    println!(
        "opened, drew {}x{} in {} colours, closed, opened again",
        first.width,
        first.height,
        first.colours()
    );
    Ok(())
}

/// Waits for a whole picture.
fn look(plugin: &mut Instance, window: &mut Window) -> Result<Picture, Box<dyn Error>> {
    let start = Instant::now();
    loop {
        window.run(plugin, A_WHILE)?;
        let picture = window.picture()?;
        if picture.unpainted_share() < 0.001 && picture.colours() > 20 {
            return Ok(picture);
        }
        if start.elapsed() > PATIENCE {
            return Err(format!(
                "no picture: {:.3} of it unpainted, {} colours",
                picture.unpainted_share(),
                picture.colours()
            )
            .into());
        }
    }
}

/// Ten seconds of decaying tones, two a second, over a soft one.
fn beat() -> Vec<f32> {
    (0..480_000)
        .map(|frame| {
            let t = f64::from(frame) / 48_000.0;
            let since = t % 0.5;
            let hit = (-since / 0.06).exp() * (TAU * 180.0 * since).sin();
            (0.6 * hit + 0.05 * (TAU * 330.0 * t).sin()) as f32
        })
        .collect()
}

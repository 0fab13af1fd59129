//! A display to open the editor on, and its picture.

use std::env;
use std::path::Path;
use std::process::{Command, ExitCode};
use std::time::Duration;

use brunt_host::Instance;
use brunt_host::display::VirtualDisplay;
use brunt_host::window::Window;

use super::Result;

/// Set for the program that was started anew under a virtual display.
const INSIDE: &str = "BRUNT_DEMO_INSIDE";
/// How long the editor is left to draw itself. Under a software renderer a frame takes 30 ms.
const SETTLE: Duration = Duration::from_millis(1200);

/// How often it is looked at again where it has drawn nothing yet: a busy machine takes longer.
const LOOKS: usize = 8;

/// Where this program runs.
pub enum Screen {
    /// There is a display: go on.
    Here,
    /// Everything was done by a second run of this program, which ended so.
    RanInside(ExitCode),
}

/// Starts a virtual display and this program anew under it; without one, the user's own display
/// does. The virtual one comes first, since windows in front of the editor would be in its picture.
pub fn prepare() -> Result<Screen> {
    if env::var_os(INSIDE).is_some() {
        return Ok(Screen::Here);
    }
    let display = match VirtualDisplay::start() {
        Ok(display) => display,
        Err(_) if env::var_os("DISPLAY").is_some() => return Ok(Screen::Here),
        Err(error) => return Err(error.into()),
    };
    let status = Command::new(env::current_exe()?)
        .args(env::args_os().skip(1))
        .env("DISPLAY", display.name())
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .env(INSIDE, "1")
        .status()?;
    let code = if status.success() { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    Ok(Screen::RanInside(code))
}

/// Opens the editor, lets it draw, and writes what it shows.
pub fn picture(instance: &mut Instance, path: &Path) -> Result<()> {
    let mut window = Window::open(instance, None)?;
    let mut picture = None;
    for _ in 0..LOOKS {
        window.run(instance, SETTLE)?;
        let shown = picture.insert(window.picture()?);
        if shown.colours() >= 8 {
            break;
        }
    }
    window.close(instance)?;
    let Some(picture) = picture.filter(|picture| picture.colours() >= 8) else {
        return Err(format!("{}: the editor has drawn nothing", path.display()).into());
    };
    picture.write_png(path)?;
    Ok(())
}

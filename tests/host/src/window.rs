//! The plug-in's editor in a window of the host, and the pixels in it.
//!
//! What is the window system's own has a file of its own: one for X11, one for Windows.

#[cfg(windows)]
mod win32;
#[cfg(not(windows))]
mod x11;

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

use clack_extensions::gui::{GuiConfiguration, GuiSize, PluginGui};
use clack_host::prelude::*;

use super::handlers::Shared;
use super::{Error, Instance, Result, because};
#[cfg(windows)]
use win32 as frame;
#[cfg(not(windows))]
use x11 as frame;

use frame::Frame;

/// How the plug-in's window is embedded.
const EMBEDDED: GuiConfiguration<'static> =
    GuiConfiguration { api_type: frame::API, is_floating: false };
/// Time between two looks at what the plug-in asks for. A frame at 60 Hz lasts 16 ms.
const TICK: Duration = Duration::from_millis(4);

/// An open editor. Close it with [`Window::close`] before the instance goes.
pub struct Window {
    frame: Frame,
    size: GuiSize,
}

/// Pixels of a window.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Width, pixels.
    pub width: u32,
    /// Height, pixels.
    pub height: u32,
    /// Red, green, blue, a byte each, row by row.
    pub rgb: Vec<u8>,
}

impl Window {
    /// Opens the plug-in's editor in a window of its own on the screen there is; under X11 the
    /// display that `DISPLAY` names. `scale` is the host's wish, where it has one.
    ///
    /// # Errors
    /// When there is no display, or the plug-in refuses.
    pub fn open(instance: &mut Instance, scale: Option<f64>) -> Result<Self> {
        frame::ready()?;
        let handle = instance.plugin().plugin_handle();
        let gui = gui(&handle)?;
        if !gui.is_api_supported(&handle, EMBEDDED) {
            return Err(Error("the editor cannot be embedded in this system's window".to_owned()));
        }
        gui.create(&handle, EMBEDDED).map_err(|e| because("editor", e))?;
        if let Some(scale) = scale {
            // A plug-in may know better than the host; that is no failure.
            let _ = gui.set_scale(&handle, scale);
        }
        let size =
            gui.get_size(&handle).ok_or_else(|| Error("the editor has no size".to_owned()))?;
        let frame = Frame::open(size, UNPAINTED)?;
        // SAFETY: the window lives until `close`, which takes the editor down first.
        unsafe { gui.set_parent(&handle, frame.embedded()) }.map_err(|e| because("editor", e))?;
        gui.show(&handle).map_err(|e| because("editor", e))?;
        Ok(Self { frame, size })
    }

    /// Size, pixels.
    #[must_use]
    pub fn size(&self) -> (u32, u32) {
        (self.size.width, self.size.height)
    }

    /// Serves the plug-in's requests for a while, as a host's event loop does.
    ///
    /// # Errors
    /// When the display is lost.
    pub fn run(&mut self, instance: &mut Instance, time: Duration) -> Result<()> {
        let end = Instant::now() + time;
        while Instant::now() < end {
            instance.pump();
            let asked = instance.plugin().access_shared_handler(Shared::take_resize);
            if let Some(size) = asked {
                self.grow(size)?;
            }
            self.frame.serve()?;
            thread::sleep(TICK);
        }
        Ok(())
    }

    /// Asks the editor for a size, as when the user drags the window's corner. Gives the size that
    /// the editor has taken.
    ///
    /// # Errors
    /// When the editor refuses, or the display is lost.
    pub fn resize(&mut self, instance: &mut Instance, to: (u32, u32)) -> Result<(u32, u32)> {
        let handle = instance.plugin().plugin_handle();
        let gui = gui(&handle)?;
        let wish = GuiSize { width: to.0, height: to.1 };
        let size = gui.adjust_size(&handle, wish).unwrap_or(wish);
        gui.set_size(&handle, size).map_err(|e| because("editor", e))?;
        self.grow(size)?;
        Ok((size.width, size.height))
    }

    /// Reads the window's pixels.
    ///
    /// # Errors
    /// When the display is lost or has no 24-bit colours.
    pub fn picture(&self) -> Result<Picture> {
        let rgb = self.frame.pixels(self.size)?;
        Ok(Picture { width: self.size.width, height: self.size.height, rgb })
    }

    /// Closes the editor and the window.
    ///
    /// # Errors
    /// When the display is lost.
    pub fn close(self, instance: &mut Instance) -> Result<()> {
        let handle = instance.plugin().plugin_handle();
        gui(&handle)?.destroy(&handle);
        instance.pump();
        self.frame.close()
    }

    fn grow(&mut self, size: GuiSize) -> Result<()> {
        self.frame.grow(size)?;
        self.size = size;
        Ok(())
    }
}

fn gui(handle: &PluginMainThreadHandle) -> Result<PluginGui> {
    handle.get_extension().ok_or_else(|| Error("the plug-in has no editor".to_owned()))
}

/// The host window's own colour, 0xRRGGBB.
const UNPAINTED: u32 = 0x00ff_00ff;

impl Picture {
    /// Share of the picture's area that has its most common colour.
    #[must_use]
    pub fn commonest_share(&self) -> f64 {
        let mut counts = std::collections::HashMap::new();
        for pixel in self.rgb.chunks_exact(3) {
            *counts.entry(pixel).or_insert(0u64) += 1;
        }
        let most = counts.values().copied().max().unwrap_or(0);
        most as f64 / f64::from((self.width * self.height).max(1))
    }

    /// Share of the picture's area that the editor has not painted.
    #[must_use]
    pub fn unpainted_share(&self) -> f64 {
        let [_, r, g, b] = UNPAINTED.to_be_bytes();
        let bare = self.rgb.chunks_exact(3).filter(|pixel| *pixel == [r, g, b]).count();
        bare as f64 / f64::from((self.width * self.height).max(1))
    }

    /// Number of different colours.
    #[must_use]
    pub fn colours(&self) -> usize {
        self.rgb.chunks_exact(3).collect::<std::collections::HashSet<_>>().len()
    }

    /// Writes a PNG.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn write_png(&self, path: &Path) -> Result<()> {
        let shown = path.display().to_string();
        let file = File::create(path).map_err(|e| because(&shown, e))?;
        let mut encoder = png::Encoder::new(BufWriter::new(file), self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().map_err(|e| because(&shown, e))?;
        writer.write_image_data(&self.rgb).map_err(|e| because(&shown, e))?;
        writer.finish().map_err(|e| because(&shown, e))
    }
}

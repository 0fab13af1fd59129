//! A window of the host under X11.

use clack_extensions::gui::{GuiApiType, GuiSize, Window as Embedded};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    ConfigureWindowAux, ConnectionExt, CreateWindowAux, EventMask, ImageFormat, WindowClass,
};
use x11rb::rust_connection::RustConnection;

use crate::{Error, Result, because};

pub(super) const API: GuiApiType<'static> = GuiApiType::X11;

pub(super) struct Frame {
    connection: RustConnection,
    window: u32,
}

/// Whether there is a display; looked at before the plug-in is asked for its editor.
pub(super) fn ready() -> Result<()> {
    x11rb::connect(None).map(drop).map_err(|e| because("X display", e))
}

impl Frame {
    /// `unpainted`: the window's own colour, 0xRRGGBB.
    pub(super) fn open(size: GuiSize, unpainted: u32) -> Result<Self> {
        let (connection, screen) = x11rb::connect(None).map_err(|e| because("X display", e))?;
        let window =
            parent(&connection, screen, size, unpainted).map_err(|e| because("X window", e))?;
        Ok(Self { connection, window })
    }

    pub(super) fn embedded(&self) -> Embedded<'static, 'static> {
        Embedded::from_x11_handle(self.window.into())
    }

    pub(super) fn serve(&self) -> Result<()> {
        while let Some(event) =
            self.connection.poll_for_event().map_err(|e| because("X display", e))?
        {
            if let Event::DestroyNotify(_) = event {
                return Err(Error("the window is gone".to_owned()));
            }
        }
        Ok(())
    }

    pub(super) fn grow(&self, size: GuiSize) -> Result<()> {
        let aux = ConfigureWindowAux::new().width(size.width).height(size.height);
        self.connection.configure_window(self.window, &aux).map_err(|e| because("X window", e))?;
        self.connection.sync().map_err(|e| because("X display", e))
    }

    /// Red, green, blue of every pixel.
    pub(super) fn pixels(&self, size: GuiSize) -> Result<Vec<u8>> {
        let (w, h) = (size.width as u16, size.height as u16);
        let image = self
            .connection
            .get_image(ImageFormat::Z_PIXMAP, self.window, 0, 0, w, h, !0)
            .map_err(|e| because("X display", e))?
            .reply()
            .map_err(|e| because("window's pixels", e))?;
        if image.data.len() != (size.width * size.height * 4) as usize {
            return Err(Error(format!("window with colours of {} bits", image.depth)));
        }
        // A pixel is blue, green, red, unused in memory.
        Ok(image.data.chunks_exact(4).flat_map(|p| [p[2], p[1], p[0]]).collect())
    }

    pub(super) fn close(self) -> Result<()> {
        self.connection.destroy_window(self.window).map_err(|e| because("X window", e))?;
        self.connection.sync().map_err(|e| because("X display", e))
    }
}

/// Waits until the server has done all that was asked of it.
trait Sync {
    fn sync(&self) -> std::result::Result<(), x11rb::errors::ReplyError>;
}

impl Sync for RustConnection {
    fn sync(&self) -> std::result::Result<(), x11rb::errors::ReplyError> {
        self.get_input_focus()?.reply().map(|_| ())
    }
}

fn parent(
    connection: &RustConnection,
    screen: usize,
    size: GuiSize,
    unpainted: u32,
) -> std::result::Result<u32, Box<dyn std::error::Error>> {
    let screen = &connection.setup().roots[screen];
    let window = connection.generate_id()?;
    // A colour that no theme uses, so that a place that the editor leaves unpainted shows.
    let aux =
        CreateWindowAux::new().background_pixel(unpainted).event_mask(EventMask::STRUCTURE_NOTIFY);
    connection
        .create_window(
            screen.root_depth,
            window,
            screen.root,
            0,
            0,
            size.width as u16,
            size.height as u16,
            0,
            WindowClass::INPUT_OUTPUT,
            screen.root_visual,
            &aux,
        )?
        .check()?;
    connection.map_window(window)?.check()?;
    connection.sync()?;
    Ok(window)
}

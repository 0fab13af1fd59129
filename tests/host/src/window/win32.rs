//! A window of the host under Windows.

use std::cell::Cell;
use std::mem;
use std::ptr;
use std::sync::Once;

use clack_extensions::gui::{GuiApiType, GuiSize, Window as Embedded};
use windows_sys::Win32::Foundation::{HWND, POINT, RECT};
use windows_sys::Win32::Graphics::Gdi::{
    BI_RGB, BITMAPINFO, BITMAPINFOHEADER, BitBlt, ClientToScreen, CreateCompatibleBitmap,
    CreateCompatibleDC, CreateSolidBrush, DIB_RGB_COLORS, DeleteDC, DeleteObject, GetDC, GetDIBits,
    ReleaseDC, SRCCOPY, SelectObject,
};
use windows_sys::Win32::System::LibraryLoader::{GetModuleHandleW, GetProcAddress};
use windows_sys::Win32::UI::WindowsAndMessaging::{
    AdjustWindowRect, CreateWindowExW, DefWindowProcW, DestroyWindow, DispatchMessageW, GW_CHILD,
    GetWindow, HWND_TOP, IsWindow, MSG, PM_REMOVE, PeekMessageW, RegisterClassW, SW_SHOW,
    SWP_NOACTIVATE, SWP_NOMOVE, SWP_NOSIZE, SWP_NOZORDER, SetParent, SetWindowPos, ShowWindow,
    TranslateMessage, WNDCLASSW, WS_CLIPCHILDREN, WS_POPUP, WS_VISIBLE,
};
use windows_sys::{s, w};

use crate::{Error, Result};

pub(super) const API: GuiApiType<'static> = GuiApiType::WIN32;

/// No border and no title, so that the whole window is the editor's.
const STYLE: u32 = WS_POPUP | WS_CLIPCHILDREN | WS_VISIBLE;

pub(super) struct Frame {
    window: HWND,
    /// The editor's window, where it has been taken out of ours: see [`Frame::show_under_wine`].
    taken_out: Cell<HWND>,
}

/// Every session of Windows has a screen.
#[expect(clippy::unnecessary_wraps, reason = "elsewhere it can fail")]
pub(super) fn ready() -> Result<()> {
    Ok(())
}

impl Frame {
    /// `unpainted`: the window's own colour, 0xRRGGBB.
    pub(super) fn open(size: GuiSize, unpainted: u32) -> Result<Self> {
        register(unpainted);
        let (width, height) = outer(size);
        // SAFETY: the class is registered, and its name ends with a zero.
        let window = unsafe {
            CreateWindowExW(
                0,
                CLASS,
                CLASS,
                STYLE,
                0,
                0,
                width,
                height,
                ptr::null_mut(),
                ptr::null_mut(),
                GetModuleHandleW(ptr::null()),
                ptr::null(),
            )
        };
        if window.is_null() {
            return Err(failed("window"));
        }
        // SAFETY: the window has just been made.
        unsafe { ShowWindow(window, SW_SHOW) };
        let frame = Self { window, taken_out: Cell::new(ptr::null_mut()) };
        frame.serve()?;
        Ok(frame)
    }

    pub(super) fn embedded(&self) -> Embedded<'static, 'static> {
        Embedded::from_generic_ptr(API, self.window)
    }

    pub(super) fn serve(&self) -> Result<()> {
        // SAFETY: a message is plain data, which the system fills in; zeros are one.
        let mut message: MSG = unsafe { mem::zeroed() };
        self.show_under_wine();
        // SAFETY: the structure lives through the calls.
        unsafe {
            while PeekMessageW(&mut message, ptr::null_mut(), 0, 0, PM_REMOVE) != 0 {
                TranslateMessage(&message);
                DispatchMessageW(&message);
            }
            if IsWindow(self.window) == 0 {
                return Err(Error("the window is gone".to_owned()));
            }
        }
        Ok(())
    }

    /// Wine 8.0 shows nothing of what OpenGL draws in a window within another: there the editor's window
    /// becomes one of the screen's own, at the same place. Windows itself, and its plug-in, see no
    /// difference but the parent.
    fn show_under_wine(&self) {
        if !is_wine() {
            return;
        }
        // SAFETY: the window is ours, and what is in it belongs to this thread, too.
        unsafe {
            let editor = GetWindow(self.window, GW_CHILD);
            if !editor.is_null() {
                SetParent(editor, ptr::null_mut());
                self.taken_out.set(editor);
            }
        }
    }

    pub(super) fn grow(&self, size: GuiSize) -> Result<()> {
        let (width, height) = outer(size);
        let flags = SWP_NOMOVE | SWP_NOZORDER;
        // SAFETY: the window is ours, and lives.
        let done =
            unsafe { SetWindowPos(self.window, ptr::null_mut(), 0, 0, width, height, flags) };
        if done == 0 {
            return Err(failed("window's size"));
        }
        let editor = self.taken_out.get();
        if !editor.is_null() {
            // What is no longer in our window must not end up behind it.
            let flags = SWP_NOMOVE | SWP_NOSIZE | SWP_NOACTIVATE;
            // SAFETY: a window that is gone is refused.
            unsafe { SetWindowPos(editor, HWND_TOP, 0, 0, 0, 0, flags) };
        }
        self.serve()
    }

    /// Red, green, blue of every pixel, as it is on the screen: what OpenGL draws is not in the
    /// window's own memory.
    pub(super) fn pixels(&self, size: GuiSize) -> Result<Vec<u8>> {
        let (width, height) = (size.width as i32, size.height as i32);
        let mut origin = POINT { x: 0, y: 0 };
        let mut pixels = vec![0u8; (size.width * size.height * 4) as usize];
        // SAFETY: zeros are a head without a palette.
        let mut info: BITMAPINFO = unsafe { mem::zeroed() };
        info.bmiHeader.biSize = mem::size_of::<BITMAPINFOHEADER>() as u32;
        info.bmiHeader.biWidth = width;
        // Negative: the first row is the top one.
        info.bmiHeader.biHeight = -height;
        info.bmiHeader.biPlanes = 1;
        info.bmiHeader.biBitCount = 32;
        info.bmiHeader.biCompression = BI_RGB;
        // SAFETY: each handle is made here and released here; the memory holds four bytes for every
        // pixel that the head asks for.
        let rows = unsafe {
            ClientToScreen(self.window, &mut origin);
            let screen = GetDC(ptr::null_mut());
            let memory = CreateCompatibleDC(screen);
            let bitmap = CreateCompatibleBitmap(screen, width, height);
            let old = SelectObject(memory, bitmap);
            let copied = BitBlt(memory, 0, 0, width, height, screen, origin.x, origin.y, SRCCOPY);
            SelectObject(memory, old);
            let rows = GetDIBits(
                memory,
                bitmap,
                0,
                size.height,
                pixels.as_mut_ptr().cast(),
                &mut info,
                DIB_RGB_COLORS,
            );
            DeleteObject(bitmap);
            DeleteDC(memory);
            ReleaseDC(ptr::null_mut(), screen);
            if copied == 0 { 0 } else { rows }
        };
        if rows != height {
            return Err(failed("window's pixels"));
        }
        // A pixel is blue, green, red, unused in memory.
        Ok(pixels.chunks_exact(4).flat_map(|p| [p[2], p[1], p[0]]).collect())
    }

    pub(super) fn close(self) -> Result<()> {
        // SAFETY: the window is ours.
        if unsafe { DestroyWindow(self.window) } == 0 {
            return Err(failed("window"));
        }
        Ok(())
    }
}

/// Name of the window's class, ended by a zero.
const CLASS: *const u16 = w!("BruntHost");

/// Whether this is no Windows, but wine, which says so by a function of its own.
fn is_wine() -> bool {
    // SAFETY: both names end with a zero, and this library is in every program.
    unsafe {
        let library = GetModuleHandleW(w!("ntdll.dll"));
        GetProcAddress(library, s!("wine_get_version")).is_some()
    }
}

/// Registers the window's class, once.
fn register(unpainted: u32) {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let [_, r, g, b] = unpainted.to_be_bytes();
        let colour = u32::from_le_bytes([r, g, b, 0]);
        // SAFETY: name and procedure live as long as the program. A class that cannot be registered
        // shows when the window is made.
        unsafe {
            let class = WNDCLASSW {
                lpfnWndProc: Some(DefWindowProcW),
                hInstance: GetModuleHandleW(ptr::null()),
                hbrBackground: CreateSolidBrush(colour),
                lpszClassName: CLASS,
                ..mem::zeroed()
            };
            RegisterClassW(&class);
        }
    });
}

/// Size of a window that has a client area of this size.
fn outer(size: GuiSize) -> (i32, i32) {
    let mut rect = RECT { left: 0, top: 0, right: size.width as i32, bottom: size.height as i32 };
    // SAFETY: the rectangle lives through the call.
    unsafe { AdjustWindowRect(&mut rect, STYLE, 0) };
    (rect.right - rect.left, rect.bottom - rect.top)
}

fn failed(what: &str) -> Error {
    crate::because(what, std::io::Error::last_os_error())
}

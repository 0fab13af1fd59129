//! Link options of the plug-in's library.

use std::error::Error;
use std::path::Path;
use std::process::Command;
use std::{env, fs};

/// Functions of Windows' libraries for windows, pictures and objects. The system loads these libraries when
/// the first of their functions is called, that is with the editor, and not with the plug-in: a host's
/// scan would else spend most of its time on them, in a program that has no window of its own. A
/// function that is missing here is linked as ever, and takes its library along into the scan:
/// `cargo xtask windows` names it. None takes floating-point numbers, whose registers the first call
/// of GNU's `dlltool` does not keep.
const LATE: [(&str, &str); 9] = [
    (
        "user32",
        "AdjustWindowRectEx CallNextHookEx CloseClipboard CountClipboardFormats CreateWindowExA \
         CreateWindowExW DefWindowProcA DefWindowProcW DestroyWindow DispatchMessageW EmptyClipboard \
         EnumClipboardFormats GetClipboardData GetClipboardFormatNameW GetDC GetFocus GetKeyState \
         GetKeyboardLayout GetMessageW GetUpdateRect GetWindowLongPtrA GetWindowLongPtrW \
         GetWindowLongW InvalidateRect KillTimer LoadCursorW LoadIconA MapVirtualKeyExW \
         MonitorFromWindow OpenClipboard PeekMessageW PostMessageA PostMessageW RegisterClassExA \
         RegisterClassW RegisterClipboardFormatW ReleaseCapture ReleaseDC ScreenToClient SetCapture \
         SetClipboardData SetCursor SetFocus SetParent SetTimer SetWindowLongPtrA SetWindowLongPtrW \
         SetWindowPos SetWindowsHookExW ShowWindow ToUnicodeEx TrackMouseEvent TranslateMessage \
         UnhookWindowsHookEx UnregisterClassA UnregisterClassW ValidateRect",
    ),
    (
        "gdi32",
        "ChoosePixelFormat CreateDIBitmap DescribePixelFormat GetDIBits GetDeviceCaps GetObjectW \
         SetPixelFormat SwapBuffers",
    ),
    (
        "opengl32",
        "wglCreateContext wglDeleteContext wglGetCurrentContext wglGetProcAddress wglMakeCurrent",
    ),
    ("shell32", "DragQueryFileW SHGetKnownFolderPath"),
    ("ole32", "OleInitialize RegisterDragDrop RevokeDragDrop"),
    ("oleaut32", "GetErrorInfo SetErrorInfo SysAllocStringLen SysFreeString SysStringLen"),
    ("combase", "CoCreateFreeThreadedMarshaler CoTaskMemFree"),
    ("rpcrt4", "UuidCreate"),
    ("api-ms-win-core-winrt-error-l1-1-0", "RoOriginateErrorW"),
];

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=build.rs");
    let of = |name| env::var(name).unwrap_or_default();
    match (&*of("CARGO_CFG_TARGET_OS"), &*of("CARGO_CFG_TARGET_ENV")) {
        // The library must stay in memory once it is loaded. The standard library leaves a
        // destructor with every thread that has touched it; a host that unloads the plug-in and
        // then ends such a thread would jump into memory that is gone, and crash. Plug-in
        // scanners do exactly that.
        ("linux", _) => option("-Wl,-z,nodelete"),
        ("windows", "gnu") => {
            // Wine maps sections that lie at whole pages of the file. It reads others into memory,
            // all of them, before a host's scan sees the descriptor.
            option("-Wl,--file-alignment=4096");
            if (of("CARGO_CFG_TARGET_ARCH"), of("CARGO_CFG_TARGET_ABI"))
                == ("x86_64".into(), "".into())
            {
                late_by_dlltool(Path::new(&of("OUT_DIR")))?;
            }
        }
        ("windows", "msvc") => {
            for (library, _) in LATE {
                option(&format!("/DELAYLOAD:{library}.dll"));
            }
            option("delayimp.lib");
        }
        _ => {}
    }
    Ok(())
}

fn option(option: &str) {
    println!("cargo::rustc-link-arg-cdylib={option}");
}

/// GNU's linker knows no such option, but its `dlltool` makes archives of functions that load their library.
/// They are linked whole and first, ahead of the imports that crates bring.
fn late_by_dlltool(folder: &Path) -> Result<(), Box<dyn Error>> {
    // Those that rustc calls.
    let dlltool = if cfg!(windows) { "dlltool" } else { "x86_64-w64-mingw32-dlltool" };
    if Command::new(dlltool).arg("--version").output().is_err() {
        println!(
            "cargo::warning={dlltool} is not installed: Windows' libraries are loaded by a scan"
        );
        return Ok(());
    }
    println!("cargo::rustc-link-search=native={}", folder.display());
    for (library, functions) in LATE {
        let list = folder.join(format!("{library}.def"));
        let functions: Vec<_> = functions.split_whitespace().collect();
        fs::write(&list, format!("LIBRARY {library}.dll\nEXPORTS\n{}\n", functions.join("\n")))?;
        let mut make = Command::new(dlltool);
        // Its own files of a moment lie in the current folder.
        make.current_dir(folder).arg("--input-def").arg(&list);
        let status = make.arg("--output-delaylib").arg(format!("liblate-{library}.a")).status()?;
        if !status.success() {
            return Err(format!("{dlltool} for {library}: {status}").into());
        }
        println!("cargo::rustc-link-lib=static:+whole-archive,-bundle=late-{library}");
    }
    println!("cargo::rustc-link-lib=dylib=delayimp");
    Ok(())
}

//! One library for both formats.

use std::ffi::CString;

use brunt_host::bundle;

#[test]
fn the_library_serves_clap_and_vst3_hosts() {
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    let name = CString::new(path.to_string_lossy().as_bytes()).expect("a path without NUL");
    // SAFETY: the library is our own build; the names are C strings.
    unsafe {
        let library = libc::dlopen(name.as_ptr(), libc::RTLD_NOW | libc::RTLD_LOCAL);
        assert!(!library.is_null(), "{} does not load", path.display());
        // The entry symbols as the two formats' standards name them (Linux): clap/entry.h;
        // VST 3 module architecture, "ModuleEntry" and "ModuleExit".
        for symbol in [c"clap_entry", c"GetPluginFactory", c"ModuleEntry", c"ModuleExit"] {
            assert!(!libc::dlsym(library, symbol.as_ptr()).is_null(), "{symbol:?} is missing");
        }
    }
}

//! One library for both formats.

use brunt_host::bundle;
use libloading::Library;

/// The entry symbols as the two formats' standards name them: clap/entry.h; VST 3 module
/// architecture, whose entry and exit have a name of each system's own.
const SYMBOLS: [&str; 4] = if cfg!(target_os = "windows") {
    ["clap_entry", "GetPluginFactory", "InitDll", "ExitDll"]
} else if cfg!(target_os = "macos") {
    ["clap_entry", "GetPluginFactory", "bundleEntry", "bundleExit"]
} else {
    ["clap_entry", "GetPluginFactory", "ModuleEntry", "ModuleExit"]
};

#[test]
fn the_library_serves_clap_and_vst3_hosts() {
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    // SAFETY: the library is our own build, and its initialisation has no precondition.
    let library = unsafe { Library::new(&path) }
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    for symbol in SYMBOLS {
        // SAFETY: the symbol is looked for and neither called nor read.
        let found = unsafe { library.get::<*const ()>(symbol.as_bytes()) };
        assert!(found.is_ok(), "{symbol} is missing");
    }
}

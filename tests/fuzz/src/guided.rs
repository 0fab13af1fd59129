//! The fuzz targets under libFuzzer, which steers by coverage: see `cargo xtask fuzz --guided`.
//! `BRUNT_FUZZ_TARGET` names the target.
#![no_main]

use std::sync::LazyLock;

use brunt_fuzz::targets;
use libfuzzer_sys::fuzz_target;

static TARGET: LazyLock<targets::Target> = LazyLock::new(|| {
    // The plug-in's logger puts its own panic hook over the fuzzer's, which ends the program at
    // every panic, so the fuzzer's goes on top again.
    let fuzzers = std::panic::take_hook();
    let _ = brunt_host::Instance::load_linked(&brunt::clap_entry);
    std::panic::set_hook(Box::new(move |info| {
        if !targets::is_theirs(info) {
            fuzzers(info);
        }
    }));
    let name = std::env::var("BRUNT_FUZZ_TARGET").unwrap_or_default();
    targets::find(&name)
});

fuzz_target!(|bytes: &[u8]| (TARGET.run)(bytes));

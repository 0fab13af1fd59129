//! The list of targets.

use std::panic::PanicHookInfo;

/// Something to feed with bytes.
#[derive(Clone, Copy)]
pub struct Target {
    /// Its name.
    pub name: &'static str,
    /// Runs it once; panics where it finds something.
    pub run: fn(&[u8]),
    /// Most bytes that it makes use of.
    pub longest: usize,
}

/// Every target.
pub const ALL: &[Target] = &[
    Target { name: "state", run: crate::state::run, longest: 256 },
    Target { name: "files", run: crate::files::run, longest: 256 },
    Target { name: "process", run: crate::process::run, longest: 512 },
    Target { name: "page", run: crate::page::run, longest: 256 },
    Target { name: "view", run: crate::view::run, longest: 256 },
];

/// Whether a panic is one inside a decoder's crate, which the reader of files catches: an error of
/// the file to it.
pub fn is_theirs(info: &PanicHookInfo<'_>) -> bool {
    info.location().is_some_and(|place| place.file().contains("symphonia"))
}

/// The target of this name.
pub fn find(name: &str) -> Target {
    let found = ALL.iter().find(|target| target.name == name);
    *found.unwrap_or_else(|| {
        let names: Vec<_> = ALL.iter().map(|target| target.name).collect();
        panic!("no target \"{name}\": expected one of {}", names.join(", "))
    })
}

//! Link options of the plug-in's library.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let of = |name| std::env::var(name).unwrap_or_default();
    let option = match (&*of("CARGO_CFG_TARGET_OS"), &*of("CARGO_CFG_TARGET_ENV")) {
        // The library must stay in memory once it is loaded. The standard library leaves a
        // destructor with every thread that has touched it; a host that unloads the plug-in and
        // then ends such a thread would jump into memory that is gone, and crash. Plug-in
        // scanners do exactly that.
        ("linux", _) => "-Wl,-z,nodelete",
        // Wine maps sections that lie at whole pages of the file. It reads others into memory, all
        // of them, before a host's scan sees the descriptor.
        ("windows", "gnu") => "-Wl,--file-alignment=4096",
        _ => return,
    };
    println!("cargo::rustc-link-arg-cdylib={option}");
}

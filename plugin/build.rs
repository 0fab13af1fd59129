//! Link options of the plug-in's library.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    if std::env::var("CARGO_CFG_TARGET_OS").as_deref() == Ok("linux") {
        // The library must stay in memory once it is loaded. The standard library leaves a
        // destructor with every thread that has touched it; a host that unloads the plug-in and
        // then ends such a thread would jump into memory that is gone, and crash. Plug-in
        // scanners do exactly that.
        println!("cargo::rustc-link-arg-cdylib=-Wl,-z,nodelete");
    }
}

//! The demo's song: an invented one, rendered part by part, whole and with one thing done to it.
//! The program `demo` plays its versions through the built plug-in; `cargo xtask demo` calls it. The
//! program `stems` writes its parts as files.

pub mod bounce;
pub mod song;

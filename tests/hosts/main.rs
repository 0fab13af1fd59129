//! The built plug-in in a host, one file a subject or a host's bad habit. All of it runs the
//! bundle as a host would load it; nothing here links the plug-in's own code.

mod audition;
mod concurrent;
mod denormals;
mod editor;
mod formats;
#[cfg(target_os = "linux")]
mod hygiene;
mod layouts;
mod material;
mod numbers;
mod orders;
mod params;
mod passes;
mod ports;
mod reference;
mod state;
mod transparent;

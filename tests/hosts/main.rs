//! The built plug-in in a host, one file a subject or a host's bad habit.

mod editor;
mod formats;
mod layouts;
mod numbers;
mod orders;
mod params;
mod passes;
mod ports;
mod signals;
mod state;
mod transparent;

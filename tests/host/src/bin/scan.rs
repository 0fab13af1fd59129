//! What a host's scan does: loads the library at the path given, asks for the plug-in's
//! descriptor, and prints the milliseconds that it took.

use std::error::Error;
use std::time::Instant;

use clack_host::entry::PluginEntry;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args().nth(1).ok_or("usage: scan Brunt.clap")?;
    let start = Instant::now();
    // SAFETY: the library is our own build, and its initialisation has no precondition.
    let entry = unsafe { PluginEntry::load(&path) }?;
    let factory = entry.get_plugin_factory().ok_or("no factory")?;
    let descriptor = factory.plugin_descriptors().next().ok_or("no plug-in")?;
    descriptor.id().ok_or("no id")?;
    println!("{:.3}", start.elapsed().as_secs_f64() * 1e3);
    Ok(())
}

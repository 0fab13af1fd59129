//! Brunt as a program of its own, on the system's audio devices.

use brunt::Brunt;

fn main() {
    // The framework has told the user what went wrong by the time this returns.
    if !nice_plug::prelude::nice_export_standalone::<Brunt>() {
        std::process::exit(1);
    }
}

//! How far definitions of an onset lie apart, over every drum one-shot that the kits use.

use brunt_lab::corpus::ceiling::quantile;
use brunt_lab::corpus::drums::Source;
use brunt_lab::corpus::onset::{Definitions, LEVELS_DB, definitions};
use brunt_lab::corpus::{CorpusError, decode, kits};

/// Prints one row a level, ms after the -30 dB definition.
pub fn print_all() -> Result<(), CorpusError> {
    let mut all: Vec<Definitions> = Vec::new();
    for kit in kits::NAMES.iter().filter_map(|name| kits::kit(name)) {
        for (_, source) in &kit.pieces {
            let Source::Files(package, files) = source else { continue };
            for file in *files {
                all.extend(definitions(&decode::decode(&package.file(file)?)?));
            }
        }
    }
    println!("{} one-shots; ms after the -30 dB definition", all.len());
    println!(
        "{:>8} {:>8} {:>8} {:>8} {:>8} {:>8}",
        "level dB", "p5", "p25", "median", "p75", "p95"
    );
    for (i, level) in LEVELS_DB.iter().enumerate() {
        let late: Vec<f64> = all.iter().map(|d| d.0[i] - d.0[2]).collect();
        let q = |q| quantile(late.clone(), q);
        println!(
            "{level:>8} {:>8.2} {:>8.2} {:>8.2} {:>8.2} {:>8.2}",
            q(0.05),
            q(0.25),
            q(0.5),
            q(0.75),
            q(0.95)
        );
    }
    Ok(())
}

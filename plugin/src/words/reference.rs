//! Words of the reference file.

use brunt_report::words::{GATE_LUFS, value};

/// Name of the field that takes the path.
pub const FIELD: &str = "Reference file";
/// What it takes, while it is empty.
pub const EMPTY: &str = "path of a reference file";
/// What it does.
pub const TIP: &str = "Type or paste the path of a file, or the file itself as your file manager \
                       copies it, and press Enter. It replaces the side-chain: it plays \
                       while the host plays, over and over. Clear the field to hear the side-chain again.";
/// While it is being read.
pub const LOADING: &str = "reading the file";
/// The fact that the file cannot be used.
pub const FAILED: &str = "No reference.";

/// A file longer than what is taken.
#[must_use]
pub fn too_long(path: &str, most_s: f64) -> String {
    format!("{path}: longer than {most_s:.0} s, the most that is taken")
}

/// A file without anything to measure.
#[must_use]
pub fn silent(path: &str) -> String {
    format!("{path}: silent, nothing above {:.0} LUFS", GATE_LUFS)
}

/// The system has no thread to read it with.
#[must_use]
pub fn no_thread(path: &str, reason: &str) -> String {
    format!("{path}: cannot be read now ({reason}): the system gave no thread")
}

/// A device or a pipe.
#[must_use]
pub fn no_file(path: &str) -> String {
    format!("{path}: a device or a pipe, not an audio file")
}

/// Reading it failed in a way that no check had foreseen.
#[must_use]
pub fn fell_over(path: &str) -> String {
    format!("{path}: reading it failed; the file may be damaged")
}

/// The whole file in two numbers: integrated loudness and median hit contrast.
#[must_use]
pub fn ready(integrated_lufs: Option<f64>, contrast_db: Option<f64>) -> String {
    format!("{}, hits {}", value(integrated_lufs, "LUFS"), value(contrast_db, "dB"))
}

/// A reading of the mix and that of the reference.
#[must_use]
pub fn beside(name: &str, mix: &str, reference: &str) -> String {
    format!("{name}: mix {mix}, reference {reference}")
}

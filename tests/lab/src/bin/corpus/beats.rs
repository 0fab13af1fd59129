//! One-shots each second, drum-only beats, full mixes.

use crate::{RATE, write};
use brunt_lab::corpus::mix::Library;
use brunt_lab::corpus::{CorpusError, kits, mix, oneshots, songs};
use std::path::Path;

/// Writes everything.
pub fn write_all(dir: &Path) -> Result<(), CorpusError> {
    write::folder(dir)?;
    let mut library = Library::default();
    for name in kits::NAMES {
        let row = oneshots::row(name, RATE, &mut library)?;
        write::pair(dir, &format!("oneshots-{name}"), &row.audio, &write::events(&row.truth))?;
    }
    for song in songs::ALL {
        let mix = mix::render(song, RATE, &mut library)?;
        let drums = write::events(&mix.drum_truth());
        write::pair(dir, &format!("drums-{}", song.name), &mix.buses["drums"], &drums)?;
        write::pair(dir, &format!("mix-{}", song.name), &mix.audio, &write::events(&mix.truth))?;
    }
    Ok(())
}

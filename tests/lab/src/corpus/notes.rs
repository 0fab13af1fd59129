//! Notes of a sound font, each rendered on its own so that its onset is known to the sample.

use super::packages::Package;
use super::{CorpusError, Stereo};
use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use std::collections::BTreeMap;
use std::fs::File;
use std::sync::Arc;

/// A sound font of the packages.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Font {
    /// General MIDI instruments and kits.
    FluidGm,
    /// An acoustic kit.
    BlackPearl,
    /// An acoustic kit.
    RedZeppelin,
}

impl Font {
    fn file(self) -> (Package, &'static str) {
        match self {
            Self::FluidGm => (Package::FluidGm, "FluidR3_GM.sf2"),
            Self::BlackPearl => (Package::AvlDrums, "Black_Pearl_4_LV2.sf2"),
            Self::RedZeppelin => (Package::AvlDrums, "Red_Zeppelin_4_LV2.sf2"),
        }
    }
}

/// A note to be rendered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// The font.
    pub font: Font,
    /// MIDI bank.
    pub bank: i32,
    /// MIDI program.
    pub preset: i32,
    /// MIDI key.
    pub key: i32,
    /// MIDI velocity, 1 to 127.
    pub velocity: i32,
    /// Frames until the key is released.
    pub held: usize,
    /// Frames rendered after the release.
    pub tail: usize,
}

/// Loads each font once and renders notes from it.
#[derive(Default)]
pub struct Fonts {
    loaded: BTreeMap<Font, Arc<SoundFont>>,
}

impl std::fmt::Debug for Fonts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Fonts").field("loaded", &self.loaded.keys()).finish()
    }
}

impl Fonts {
    /// Renders one note at `rate`, without reverb or chorus.
    ///
    /// # Errors
    /// [`CorpusError::Missing`] or [`CorpusError::File`] for the font.
    pub fn render(&mut self, note: Note, rate: u32) -> Result<Stereo, CorpusError> {
        let font = self.font(note.font)?;
        let (package, name) = note.font.file();
        let path = package.file(name)?;
        let mut settings = SynthesizerSettings::new(i32::try_from(rate).unwrap_or(48_000));
        settings.enable_reverb_and_chorus = false;
        settings.block_size = 16;
        let mut synth = Synthesizer::new(&font, &settings)
            .map_err(|e| CorpusError::file(&path, format!("{e:?}")))?;
        // Channel 9 adds 128 to the bank, as General MIDI asks of the percussion channel.
        let channel = if note.bank >= 128 { 9 } else { 0 };
        synth.process_midi_message(channel, 0xB0, 0, note.bank % 128);
        synth.process_midi_message(channel, 0xC0, note.preset, 0);
        synth.note_on(channel, note.key, note.velocity);
        let mut out = Stereo::silence(rate, note.held + note.tail);
        synth.render(&mut out.left[..note.held], &mut out.right[..note.held]);
        synth.note_off(channel, note.key);
        synth.render(&mut out.left[note.held..], &mut out.right[note.held..]);
        Ok(out)
    }

    fn font(&mut self, font: Font) -> Result<Arc<SoundFont>, CorpusError> {
        if let Some(loaded) = self.loaded.get(&font) {
            return Ok(Arc::clone(loaded));
        }
        let (package, name) = font.file();
        let path = package.file(name)?;
        let file = File::open(&path).map_err(|e| CorpusError::file(&path, e))?;
        let mut reader = std::io::BufReader::new(file);
        let loaded = Arc::new(
            SoundFont::new(&mut reader).map_err(|e| CorpusError::file(&path, format!("{e:?}")))?,
        );
        self.loaded.insert(font, Arc::clone(&loaded));
        Ok(loaded)
    }
}

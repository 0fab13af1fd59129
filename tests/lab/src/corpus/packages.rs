//! The Debian packages that the corpus plays, and where their files lie.
//!
//! The sounds' licences, as stated in each package's `copyright` file or in the kit itself:
//! sonic-pi-samples' one-shots CC0; hydrogen-drumkits: Millo kits GPL-2, BJA_Pacific CC-BY-SA 3.0,
//! ColomboAcousticDrumkit GPL-2+ with an exception for compositions, rumpf_kit CC-BY 3.0,
//! ForzeeStereo and "The Black Pearl" GPL-2, ElectricEmpireKit and HardElectro1 GPL-2+;
//! avldrums.lv2-soundfont CC-BY-SA 3.0; fluid-soundfont-gm MIT. Renders stay in the build's
//! target directory and are handed to nobody.

use super::CorpusError;
use std::path::PathBuf;

/// A package with sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Package {
    /// One-shots of an acoustic kit, 44.1 kHz mono.
    SonicPi,
    /// Several sampled kits, a folder each.
    Hydrogen,
    /// Two acoustic kits as sound fonts.
    AvlDrums,
    /// A General MIDI sound font.
    FluidGm,
}

impl Package {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::SonicPi, Self::Hydrogen, Self::AvlDrums, Self::FluidGm];

    /// Name in Debian's archive.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SonicPi => "sonic-pi-samples",
            Self::Hydrogen => "hydrogen-drumkits",
            Self::AvlDrums => "avldrums.lv2-soundfont",
            Self::FluidGm => "fluid-soundfont-gm",
        }
    }

    /// Folder in which its sounds lie.
    #[must_use]
    pub fn folder(self) -> &'static str {
        match self {
            Self::SonicPi => "/usr/share/sonic-pi/samples",
            Self::Hydrogen => "/usr/share/hydrogen/data/drumkits",
            Self::AvlDrums | Self::FluidGm => "/usr/share/sounds/sf2",
        }
    }

    /// The path of one of its files.
    ///
    /// # Errors
    /// [`CorpusError::Missing`] when the file is not there.
    pub fn file(self, name: &str) -> Result<PathBuf, CorpusError> {
        let path = PathBuf::from(self.folder()).join(name);
        if path.is_file() {
            Ok(path)
        } else {
            Err(CorpusError::Missing { package: self.name(), path })
        }
    }
}

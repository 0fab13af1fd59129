//! `Brunt.component`, an Audio Unit for macOS: the library that holds the other formats, too, with
//! an entry by the `clap-wrapper` crate. **Never built or run by us**: it takes a Mac.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};

use crate::{bundle, property_list};

/// Cargo's feature that adds the entry to the library.
pub const FEATURE: &str = "audio-unit";
/// The function by which hosts find the plug-in (`clap-wrapper`).
const FACTORY: &str = "GetPluginFactoryAUV2";

/// Makes sure that an Audio Unit can be built here, before anything is.
pub fn check() -> Result<()> {
    ensure!(cfg!(target_os = "macos"), "--audio-unit: Audio Units are built on macOS only");
    Ok(())
}

/// Puts the library into `Brunt.component` in `folder`, and gives that.
pub fn bundle(library: &Path, folder: &Path) -> Result<PathBuf> {
    let component = folder.join("Brunt.component");
    bundle::remove(&component)?;
    let contents = component.join("Contents");
    let write = |path: &Path, text: &str| {
        fs::write(path, text).with_context(|| format!("cannot write {}", path.display()))
    };
    fs::create_dir_all(contents.join("MacOS"))
        .with_context(|| format!("cannot create {}", contents.display()))?;
    fs::copy(library, contents.join("MacOS/Brunt"))
        .with_context(|| format!("cannot copy {}", library.display()))?;
    write(&contents.join("PkgInfo"), "BNDL????")?;
    write(&contents.join("Info.plist"), &info(env!("CARGO_PKG_VERSION")))?;
    Ok(component)
}

/// The property list that tells macOS of an effect (`aufx`), its codes and its entry.
fn info(version: &str) -> String {
    let mut numbers = version.split('.').map(|number| number.parse::<u32>().unwrap_or(0));
    let mut next = || numbers.next().unwrap_or(0);
    // Audio Units number versions in 16, 8 and 8 bits.
    let number = next() << 16 | next() << 8 | next();
    let effect = format!(
        r#"  <key>AudioComponents</key>
  <array>
    <dict>
      <key>type</key><string>aufx</string>
      <key>subtype</key><string>Brnt</string>
      <key>manufacturer</key><string>Brun</string>
      <key>name</key><string>Brunt: Brunt</string>
      <key>description</key><string>Brunt</string>
      <key>version</key><integer>{number}</integer>
      <key>factoryFunction</key><string>{FACTORY}</string>
      <key>sandboxSafe</key><true/>
    </dict>
  </array>
"#
    );
    property_list::list("component", version, &effect)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The folder is whole, with the library in it, and an old one gives way.
    #[test]
    fn the_component_holds_library_and_list() {
        let folder = tempfile::tempdir().expect("a folder");
        let library = folder.path().join("libbrunt.dylib");
        for content in ["old", "new"] {
            fs::write(&library, content).expect("writes");
            let component = bundle(&library, folder.path()).expect("bundles");
            let read = |name: &str| fs::read_to_string(component.join(name)).expect("is there");
            assert_eq!(read("Contents/MacOS/Brunt"), content);
            assert!(read("Contents/Info.plist").contains(FACTORY));
        }
        // 0x00_0102_03 by hand.
        assert!(info("1.2.3").contains("<integer>66051</integer>"), "{}", info("1.2.3"));
    }
}

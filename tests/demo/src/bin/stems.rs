//! Writes the versions of the demo's song as files, for hosts and programs that read files.
//!
//! `stems FOLDER [VERSION]...` leaves in the folder one for each version, with `mix.wav`, and each part
//! as `ROLE NAME.wav`. Without a version, all.

use std::error::Error;
use std::fs;
use std::path::PathBuf;

use brunt_demo::bounce;
use brunt_demo::song::{self, Version};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1);
    let folder = PathBuf::from(arguments.next().ok_or("usage: stems FOLDER [VERSION]...")?);
    let mut versions = Vec::new();
    for name in arguments {
        let known = Version::ALL.into_iter().find(|version| name.to_str() == Some(version.name()));
        versions.push(known.ok_or_else(|| {
            let names = Version::ALL.map(Version::name).join(", ");
            format!("{}: no such version; there are {names}", name.display())
        })?);
    }
    if versions.is_empty() {
        versions.extend(Version::ALL);
    }
    for version in versions {
        let folder = folder.join(version.name());
        fs::create_dir_all(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        let session = song::render(version);
        bounce::write(&folder.join("mix.wav"), &session.mix)?;
        for stem in &session.stems {
            let name = format!("{} {}.wav", stem.role.code(), stem.name);
            bounce::write(&folder.join(name), &stem.audio)?;
        }
    }
    Ok(())
}

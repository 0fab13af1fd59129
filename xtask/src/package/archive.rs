//! Archives for systems without a package of their own.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use flate2::{Compression, GzBuilder};
use tar::{Builder, EntryType, Header};
use zip::write::SimpleFileOptions;
use zip::{DateTime, ZipWriter};

use super::contents::{Item, Kind};
use super::version::{VERSION, date_s};

/// The script that puts the plug-ins and the program where they are looked for.
const INSTALL: &str = include_str!("install.sh");

/// Writes `brunt-VERSION-SYSTEM-ARCHITECTURE.tar.gz`.
pub fn tar_gz(system: &str, architecture: &str, folder: &Path, items: &[Item]) -> Result<PathBuf> {
    let name = format!("brunt-{VERSION}-{system}-{architecture}");
    let path = folder.join(format!("{name}.tar.gz"));
    let file = File::create(&path).with_context(|| format!("cannot create {}", path.display()))?;
    write(file, &name, items, date_s()?)
        .with_context(|| format!("cannot write {}", path.display()))?;
    Ok(path)
}

fn write(to: impl Write, name: &str, items: &[Item], date_s: u64) -> Result<()> {
    // No name and no date in the stream's head: the bytes are to depend on the contents alone.
    let stream = GzBuilder::new().mtime(0).write(to, Compression::best());
    let mut archive = Builder::new(stream);
    let mut add = |path: PathBuf, bytes: &[u8], executable: bool| {
        let mut header = Header::new_gnu();
        header.set_entry_type(EntryType::Regular);
        header.set_size(bytes.len() as u64);
        header.set_mode(if executable { 0o755 } else { 0o644 });
        header.set_mtime(date_s);
        archive.append_data(&mut header, Path::new(name).join(path), bytes)
    };
    add("install.sh".into(), INSTALL.as_bytes(), true)?;
    for item in items {
        add(Path::new(place(item.kind)).join(&item.path), &item.bytes, item.executable)?;
    }
    archive.into_inner()?.finish()?.flush()?;
    Ok(())
}

/// Writes `brunt-VERSION-windows-x86_64.zip`.
pub fn zip(folder: &Path, items: &[Item]) -> Result<PathBuf> {
    let name = format!("brunt-{VERSION}-windows-x86_64");
    let path = folder.join(format!("{name}.zip"));
    let file = File::create(&path).with_context(|| format!("cannot create {}", path.display()))?;
    let mut archive = ZipWriter::new(file);
    // The format counts from 1980, and has no zone: a date of its own would say nothing true.
    let options = SimpleFileOptions::default().last_modified_time(DateTime::default());
    for item in items {
        let inside = format!("{name}/{}", windows_name(item));
        archive
            .start_file(&inside, options)
            .with_context(|| format!("{}: {inside}", path.display()))?;
        archive
            .write_all(&item.bytes)
            .with_context(|| format!("cannot write {}", path.display()))?;
    }
    archive.finish().with_context(|| format!("cannot write {}", path.display()))?;
    Ok(path)
}

/// Where an item is in the packages for Windows: a text without an ending opens there with nothing.
pub fn windows_name(item: &Item) -> String {
    let path = item.path.display().to_string().replace('\\', "/");
    match item.kind {
        Kind::Document if !path.contains('.') => format!("documents/{path}.txt"),
        Kind::Document => format!("documents/{path}"),
        _ => path,
    }
}

/// The folder of each kind in the archive, which `install.sh` knows.
fn place(kind: Kind) -> &'static str {
    match kind {
        Kind::Program => "bin",
        Kind::Clap => "clap",
        Kind::Vst3 => "vst3",
        Kind::Manual => "share/man/man1",
        Kind::Bash => "share/bash-completion/completions",
        Kind::Zsh => "share/zsh/site-functions",
        Kind::Fish => "share/fish/vendor_completions.d",
        Kind::Document => "share/doc/brunt",
    }
}

#[cfg(test)]
mod tests {
    use flate2::read::GzDecoder;

    use super::*;

    #[test]
    fn the_same_contents_give_the_same_bytes_under_one_folder() {
        let item = |kind, path: &str, executable| Item {
            kind,
            path: path.into(),
            bytes: b"content".to_vec(),
            executable,
        };
        let items =
            [item(Kind::Program, "brunt", true), item(Kind::Vst3, "Brunt.vst3/a/b.so", false)];
        let archive = || {
            let mut bytes = Vec::new();
            write(&mut bytes, "brunt-1", &items, 1_000_000_000).expect("written");
            bytes
        };
        assert_eq!(archive(), archive());
        let bytes = archive();
        let mut read = tar::Archive::new(GzDecoder::new(&bytes[..]));
        let mut found = Vec::new();
        for entry in read.entries().expect("entries") {
            let entry = entry.expect("an entry");
            let path = entry.path().expect("a path").display().to_string();
            found.push((path, entry.header().mode().expect("a mode")));
        }
        assert_eq!(
            found,
            [
                ("brunt-1/install.sh".to_owned(), 0o755),
                ("brunt-1/bin/brunt".to_owned(), 0o755),
                ("brunt-1/vst3/Brunt.vst3/a/b.so".to_owned(), 0o644),
            ]
        );
    }

    /// Plug-ins go where hosts of each system look, and all files go again.
    #[cfg(unix)]
    #[test]
    fn the_script_puts_plug_ins_where_the_system_has_them() {
        use std::fs;
        use std::os::unix::fs::PermissionsExt;
        use std::process::Command;

        for (system, clap) in [("Linux", ".clap"), ("Darwin", "Library/Audio/Plug-Ins/CLAP")] {
            let folder = tempfile::tempdir().expect("a folder");
            let place = |name: &str| folder.path().join(name);
            let put = |name: &str, text: &str| {
                let path = place(name);
                fs::create_dir_all(path.parent().expect("a folder")).expect("folders");
                fs::write(&path, text).expect("written");
                fs::set_permissions(&path, fs::Permissions::from_mode(0o755)).expect("rights");
            };
            put("tools/uname", &format!("#!/bin/sh\necho {system}\n"));
            put("archive/install.sh", INSTALL);
            for file in ["bin/brunt", "clap/Brunt.clap/a", "vst3/Brunt.vst3/b", "share/doc/brunt/c"]
            {
                put(&format!("archive/{file}"), "content");
            }
            let tools = place("tools").display().to_string();
            let run = |arguments: &[&str]| {
                let mut command = Command::new(place("archive/install.sh"));
                let path = std::env::var("PATH").expect("a path");
                command.args(arguments).env("HOME", place("home"));
                command.env("PATH", format!("{tools}:{path}")).output().expect("runs")
            };
            assert!(run(&[]).status.success());
            let home = place("home");
            for file in [&*format!("{clap}/Brunt.clap/a"), ".local/bin/brunt"] {
                assert!(home.join(file).is_file(), "{system}: {file}");
            }
            assert!(run(&["--remove"]).status.success());
            assert!(!home.join(clap).exists() && !home.join(".local/bin/brunt").exists());
        }
    }
}

//! Writes the report of a pass to a file, away from the audio thread and from the window.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use brunt_files::error::io_reason;
use brunt_files::write::Unnamed;
use brunt_report::html;
use brunt_report::report::Report;
use parking_lot::Mutex;

use crate::contain::contained;
use crate::words::editor as say;
use crate::worker::{Stop, Worker};

/// Folder of the reports, in the user's documents.
const FOLDER: &str = "Brunt reports";
/// Most reports in one folder. Ours: whoever has more is better served by other names.
const MOST: u32 = 9999;

/// What became of the last report that was asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Exported {
    /// None was asked for.
    #[default]
    None,
    /// It is being written.
    Writing,
    /// It lies here.
    Written(PathBuf),
    /// It could not be written, for this reason.
    Failed(String),
}

/// Writes reports, one at a time, each to a new file.
#[derive(Debug, Default)]
pub(crate) struct Exporter {
    state: Arc<Mutex<Exported>>,
    worker: Mutex<Option<Worker>>,
}

impl Exporter {
    /// Starts to write `report`, unless one is being written.
    pub(crate) fn write(&self, report: Report) {
        {
            let mut state = self.state.lock();
            if *state == Exported::Writing {
                return;
            }
            *state = Exported::Writing;
        }
        let state = Arc::clone(&self.state);
        let work = move |_: &Stop| {
            // A report that just vanished would be shown as under way for ever.
            let written = contained(
                || Err(io::Error::other(say::REPORT_FAILED)),
                || folder().and_then(|folder| write_new(&report, &folder)),
            );
            *state.lock() = match written {
                Ok(path) => Exported::Written(path),
                Err(error) => Exported::Failed(io_reason(&error)),
            };
        };
        match Worker::start("brunt-report", work) {
            Ok(worker) => *self.worker.lock() = Some(worker),
            Err(error) => *self.state.lock() = Exported::Failed(io_reason(&error)),
        }
    }

    /// What became of the last report, where it is not `known` yet.
    pub(crate) fn news(&self, known: &Exported) -> Option<Exported> {
        let state = self.state.lock();
        (*state != *known).then(|| state.clone())
    }
}

fn folder() -> io::Result<PathBuf> {
    let home = dirs::document_dir().or_else(dirs::home_dir);
    let home = home.ok_or_else(|| io::Error::new(io::ErrorKind::NotFound, say::NO_HOME))?;
    Ok(home.join(FOLDER))
}

/// Writes the page of `report` into `folder` under the first free number, whole or not at all;
/// gives its path. The folder is made where it is missing.
///
/// # Errors
/// What the system says where the folder or the file cannot be written.
pub fn write_new(report: &Report, folder: &Path) -> io::Result<PathBuf> {
    fs::create_dir_all(folder)?;
    let path = |number: u32| folder.join(format!("Brunt report {number}.html"));
    let mut report = Unnamed::filled(&path(1), html::page(report))?;
    for number in 1..=MOST {
        let path = path(number);
        match report.name(&path) {
            Ok(()) => return Ok(path),
            Err((error, same)) if error.kind() == io::ErrorKind::AlreadyExists => report = same,
            Err((error, _)) => return Err(error),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Readings, Thresholds};
    use brunt_report::report::Source;

    use super::*;

    fn report() -> Report {
        Report::new(Source::default(), &Readings::default(), &[], Thresholds::default())
    }

    #[test]
    fn each_report_gets_a_file_of_its_own() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("Größe").join(FOLDER);
        let first = write_new(&report(), &folder).expect("written");
        fs::write(&first, "mine").expect("written");
        let second = write_new(&report(), &folder).expect("written");
        assert_ne!(first, second);
        assert_eq!(fs::read_to_string(&first).expect("read"), "mine", "never written over");
        assert_eq!(fs::read_to_string(&second).expect("read"), html::page(&report()));
        assert_eq!(fs::read_dir(&folder).expect("a folder").count(), 2, "nothing half-written");
    }

    /// The child of the test below, which alone tells it where to write.
    #[test]
    #[ignore = "run by the test below, as a program of its own"]
    fn writes_where_it_is_told() {
        let folder = std::env::var_os("BRUNT_TEST_REPORTS").expect("run by the test below");
        let written = write_new(&report(), Path::new(&folder));
        assert!(written.is_err(), "the limit on file sizes was not reached");
    }

    /// A disk that fills up (an error in the middle of the file), and a program that is stopped
    /// there (as by a power cut): `ulimit -f` counts blocks of 512 bytes, and going past it ends a
    /// program that does not ignore the signal.
    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_there_outlives_a_full_disk_and_a_sudden_end() {
        let place = tempfile::tempdir().expect("a folder");
        let first = write_new(&report(), place.path()).expect("written");
        let before = fs::read(&first).expect("read");
        for (ignore, ends_well) in [("trap '' XFSZ;", true), ("", false)] {
            let output = std::process::Command::new("sh")
                .args(["-c", &format!("ulimit -f 8; {ignore} exec \"$@\""), "sh"])
                .arg(std::env::current_exe().expect("this program"))
                .args(["--ignored", "--exact", "export::tests::writes_where_it_is_told"])
                .env("BRUNT_TEST_REPORTS", place.path())
                .output()
                .expect("sh runs");
            assert_eq!(output.status.success(), ends_well, "{output:?}");
            assert_eq!(fs::read(&first).expect("read"), before, "the old report stays");
            let reports = fs::read_dir(place.path()).expect("a folder").filter(|entry| {
                let name = entry.as_ref().expect("an entry").file_name();
                name.to_string_lossy().ends_with(".html")
            });
            assert_eq!(reports.count(), 1, "and no half one has its kind of name");
        }
    }

    /// The child of the test below: starts to write, and is gone at once, as when a host removes the
    /// plug-in.
    #[test]
    #[ignore = "run by the test below, as a program of its own"]
    fn is_removed_while_it_writes() {
        let exporter = Exporter::default();
        exporter.write(report());
        assert!(exporter.news(&Exported::None).is_some(), "it has begun");
        drop(exporter);
        let written: Vec<_> = fs::read_dir(folder().expect("a home")).expect("a folder").collect();
        assert_eq!(written.len(), 1, "{written:?}");
    }

    /// An instance that is removed while its report is being written: its end waits for the report,
    /// which is whole, and nothing half-written is left.
    #[cfg(target_os = "linux")]
    #[test]
    fn an_instance_removed_while_it_writes_leaves_a_whole_report() {
        for _ in 0..8 {
            let home = tempfile::tempdir().expect("a folder");
            let output = std::process::Command::new(std::env::current_exe().expect("this program"))
                .args(["--ignored", "--exact", "export::tests::is_removed_while_it_writes"])
                .env("HOME", home.path())
                .env("XDG_CONFIG_HOME", home.path().join("none"))
                .output()
                .expect("the test program starts");
            assert!(output.status.success(), "{output:?}");
            let file = home.path().join(FOLDER).join("Brunt report 1.html");
            assert_eq!(fs::read_to_string(&file).expect("read"), html::page(&report()));
            assert_eq!(fs::read_dir(home.path()).expect("a folder").count(), 1, "{output:?}");
        }
    }

    /// Where the system keeps documents, by its own variable.
    #[cfg(windows)]
    #[test]
    fn reports_go_to_the_users_documents() {
        let home = PathBuf::from(std::env::var_os("USERPROFILE").expect("every user has one"));
        assert_eq!(folder().expect("a folder"), home.join("Documents").join(FOLDER));
    }

    #[test]
    fn a_place_that_is_no_folder_is_told() {
        let place = tempfile::tempdir().expect("a folder");
        let file = place.path().join("file");
        fs::write(&file, "mine").expect("written");
        assert!(write_new(&report(), &file).is_err());
        assert_eq!(fs::read_to_string(&file).expect("read"), "mine");
    }
}

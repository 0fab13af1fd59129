//! Lines about a part: its name, and room for the rest.

use std::collections::BTreeSet;

use brunt_engine::parts::PartTrack;

use super::advice::ADVICE_CHARS;

/// Longest name of a part inside an advice, characters.
const NAME_CHARS: usize = 18;

/// Endings of audio files, by which a file is told from a track of a host: "Gtr L/R" and "Vox v1.2"
/// are whole names.
const ENDINGS: [&str; 8] = ["wav", "wave", "aif", "aiff", "flac", "mp3", "ogg", "oga"];

/// A part's name in a sentence: its file without folder and ending, or its track; its role where it
/// has neither.
#[must_use]
pub fn part_name(track: &PartTrack) -> String {
    let name = if is_file(&track.name) { file_stem(&track.name) } else { &track.name };
    if name.is_empty() { track.role.code().to_owned() } else { name.to_owned() }
}

/// Names of parts or takes that differ, each as short as that allows: the file without folder and ending;
/// where two are the same, with the ending, or with as many folders as it takes. What is no file keeps its
/// whole name, and a path that is given twice has one name.
#[must_use]
pub fn differing_names(names: &[&str]) -> Vec<String> {
    let short = |a: &str, b: &str| cut_name(a, 0, false) == cut_name(b, 0, false);
    let differing = |name: &str| {
        let alike: BTreeSet<&str> =
            names.iter().copied().filter(|other| short(other, name)).collect();
        let folders = alike.iter().map(|path| path.matches(SEPARATORS).count()).max().unwrap_or(0);
        let differ = |&(folders, ending): &(usize, bool)| {
            let told: BTreeSet<&str> =
                alike.iter().map(|path| cut_name(path, folders, ending)).collect();
            told.len() == alike.len()
        };
        let mut forms = (0..=folders).flat_map(|folders| [(folders, false), (folders, true)]);
        forms
            .find(differ)
            .map_or(name, |(folders, ending)| cut_name(name, folders, ending))
            .to_owned()
    };
    names.iter().map(|name| differing(name)).collect()
}

/// What is between the folders of a path.
const SEPARATORS: [char; 2] = ['/', '\\'];

/// The end of a path: the file with `folders` folders ahead of it, with or without its ending.
fn cut_name(name: &str, folders: usize, ending: bool) -> &str {
    if !is_file(name) {
        return name;
    }
    let from = name.rmatch_indices(SEPARATORS).nth(folders).map_or(0, |(at, _)| at + 1);
    let stem = file_stem(name);
    let last = name.rfind(SEPARATORS).map_or(0, |at| at + 1);
    let to = if ending { name.len() } else { last + stem.len() };
    &name[from..to]
}

/// Whether a part's name is that of an audio file.
#[must_use]
pub fn is_file(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&&*ending))
}

/// A file's name without folder and ending.
pub(super) fn file_stem(path: &str) -> &str {
    let file = path.rsplit(SEPARATORS).next().unwrap_or_default();
    file.rsplit_once('.').map_or(file, |(stem, _)| if stem.is_empty() { file } else { stem })
}

/// The same, cut so that an advice has room for it.
pub(super) fn short_name(track: &PartTrack) -> String {
    let name = part_name(track);
    if name.chars().count() <= NAME_CHARS {
        return name;
    }
    name.chars().take(NAME_CHARS - 1).chain(['\u{2026}']).collect()
}

/// An advice that fits its line: what stands behind the colon goes where there is no room.
pub(super) fn fit(line: String) -> String {
    if line.chars().count() <= ADVICE_CHARS {
        return line;
    }
    format!("{}.", line.split(':').next().unwrap_or_default())
}

/// A share as a percentage: `62 %`.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_as_long_as_it_takes_to_differ() {
        for (files, told) in [
            (&["A/gtr.wav", "A/other.wav"][..], &["gtr", "other"][..]),
            (&["A/gtr.wav", "B/gtr.wav", "B/other.wav"], &["A/gtr", "B/gtr", "other"]),
            (&["A/gtr.wav", "B/gtr.flac"], &["gtr.wav", "gtr.flac"]),
            (&["A/gtr.wav", "A/gtr.flac", "B/gtr.wav"], &["A/gtr.wav", "A/gtr.flac", "B/gtr.wav"]),
            (&["/x/A/1/gtr.wav", "/x/B/1/gtr.wav"], &["A/1/gtr", "B/1/gtr"]),
            (&["gtr.wav", "A/gtr.wav"], &["gtr", "A/gtr"]),
            (&["A\\gtr.wav", "B\\gtr.wav"], &["A\\gtr", "B\\gtr"]),
            (&["gtr.wav", "gtr.wav"], &["gtr", "gtr"]),
            (&["A/no ending", "B/no ending"], &["A/no ending", "B/no ending"]),
            (&["\u{fc}/\u{e9}.wav", "\u{e9}.wav"], &["\u{fc}/\u{e9}", "\u{e9}"]),
        ] {
            assert_eq!(differing_names(files), told);
        }
    }

    #[test]
    fn a_file_loses_folder_and_ending_and_a_track_nothing() {
        for (name, told) in [
            ("stems/a.b/Kick In.wav", "Kick In"),
            ("C:\\stems\\bass.FLAC", "bass"),
            ("Gtr L/R", "Gtr L/R"),
            ("Vox v1.2", "Vox v1.2"),
            ("", "other"),
        ] {
            let track = PartTrack { name: name.to_owned(), ..PartTrack::default() };
            assert_eq!(part_name(&track), told);
        }
    }
}

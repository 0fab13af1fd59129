//! Lines about a part: its name, and room for the rest.

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

/// Whether a part's name is that of an audio file.
#[must_use]
pub fn is_file(name: &str) -> bool {
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&&*ending))
}

/// A file's name without folder and ending.
pub(super) fn file_stem(path: &str) -> &str {
    let file = path.rsplit(['/', '\\']).next().unwrap_or_default();
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

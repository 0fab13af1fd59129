//! Lines about a part: its name, and room for the rest.

use brunt_engine::parts::PartTrack;

use super::advice::ADVICE_CHARS;

/// Longest name of a part inside an advice, characters.
const NAME_CHARS: usize = 18;

/// A part's name in a sentence: its file without folder and ending; its role where it has none.
#[must_use]
pub fn part_name(track: &PartTrack) -> String {
    let name = file_stem(&track.name);
    if name.is_empty() { track.role.code().to_owned() } else { name.to_owned() }
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

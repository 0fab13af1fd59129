//! Words of the editor's views beside the hits: the song, the parts, the comparison, kept passes,
//! the report.

use brunt_engine::LeakKind;
use brunt_report::words::{count, leak_name, signed, value};

/// View: the last bars.
pub const HITS: &str = "Hits";
/// View: the whole song.
pub const SONG: &str = "Song";
/// View: the parts.
pub const PARTS: &str = "Parts";
/// View: the side-chain beside the mix.
pub const COMPARE: &str = "Compare";
/// What the views show.
pub const VIEW_TIPS: [&str; 4] = [
    "The last few bars of the song; one drawn bar per hit.",
    "The whole song: loudness, hit contrast and the cost of each leak over time.",
    "The parts of the mix, each on its own: timing and cost.",
    "This mix against what the side-chain carries.",
];
/// Before a view's name, for assistive technology.
pub const VIEW: &str = "View";

/// The switch that holds the picture.
pub const FREEZE: &str = "Freeze";
/// What it does.
pub const FREEZE_TIP: &str = "Hold the picture and its numbers. Measuring goes on behind it.";
/// The picture is held.
pub const FROZEN: &str = "Frozen.";
/// What that means.
pub const FROZEN_HOW: &str = "Measuring goes on; press Freeze again to see it.";

/// The button that keeps a pass.
pub const KEEP: &str = "Keep";
/// The same for assistive technology.
pub const KEEP_NAME: &str = "Keep this pass to compare with";
/// What it does.
pub const KEEP_TIP: &str = "Keep this pass before you move the limiter. Play the same bars again: \
                            the change shows large, with the kept pass drawn behind.";
/// The button that forgets a kept pass.
pub const FORGET: &str = "Forget";

/// The button that writes the report.
pub const REPORT: &str = "Report";
/// The same for assistive technology.
pub const REPORT_NAME: &str = "Write the report to a file";
/// What it does.
pub const REPORT_TIP: &str = "Write this pass as one HTML page into the folder Brunt reports in \
                              your documents. No file there is ever replaced.";
/// The report is being written.
pub const WRITING: &str = "Writing the report.";
/// The report has been written; its path follows.
pub const WRITTEN: &str = "Report written:";
/// The report could not be written; the reason follows.
pub const NOT_WRITTEN: &str = "The report could not be written:";

/// The button that closes the news.
pub const CLOSE: &str = "Close";
/// The same for assistive technology.
pub const CLOSE_NAME: &str = "Close this message";

/// The song view while nothing was measured.
pub const NO_SONG: &str = "Nothing measured yet: play the song";
/// What to do then.
pub const NO_SONG_HOW: &str = "Its loudness, hit contrast and leaks are then drawn here from the \
                               first bar to the last.";
/// The song view's keys and pointer.
pub const SONG_HOW: &str = "Scroll to zoom, drag to move, double-click for the whole song. Keys: \
                            plus and minus, arrows, Home; Page Up and Page Down for its sections.";
/// The line of the kept pass.
pub const KEPT: &str = "kept";

/// The command that does it.
pub const NO_PARTS_COMMAND: &str = "brunt check mix.wav --part drums=drums.wav";

/// The comparison while the side-chain carries nothing.
pub const NO_COMPARE: &str = "Nothing to compare with yet";
/// What to do then.
pub const NO_COMPARE_HOW: &str = "Send the mix from before the limiter, or a reference track, to \
                                  Brunt's side-chain, and choose below which of the two it is.";
/// Momentary loudness of the mix.
pub const THIS_MIX: &str = "This mix";
/// Loudness of the side-chain.
pub const SIDE: &str = "Side-chain";
/// Their difference.
pub const LOUDER_BY: &str = "This mix is louder by";
/// The bands that are compared.
pub const BANDS: [&str; 3] = ["Low band", "Mid band", "High band"];
/// What to hear.
pub const LISTEN: &str = "Listen to";

/// Under the change of the contrast.
#[must_use]
pub fn contrast_since(number: u32) -> String {
    format!("contrast since kept {number}")
}

/// Under the change of the lost peak.
#[must_use]
pub fn lost_since(number: u32) -> String {
    format!("lost peak since kept {number}")
}

/// The change since a kept pass in words, with what it is based on.
#[must_use]
pub fn spoken_change(
    number: u32,
    contrast_db: Option<f64>,
    lost_db: Option<f64>,
    same_places: usize,
) -> String {
    format!(
        "Since kept pass {number}: hit contrast {}, lost peak {}. {}",
        signed(contrast_db, "dB"),
        signed(lost_db, "dB"),
        change_basis(same_places)
    )
}

/// What a change is based on.
#[must_use]
pub fn change_basis(same_places: usize) -> String {
    if same_places > 0 {
        format!(
            "Based on the last {}, each against the kept one at the same song position.",
            count(same_places as u64, "hit")
        )
    } else {
        "Based on the last hits against the whole kept pass: play the same bars for a closer \
         comparison."
            .to_owned()
    }
}

/// Name of a button that shows a kept pass.
#[must_use]
pub fn kept_name(number: u32) -> String {
    format!("Compare with kept pass {number}")
}

/// What a kept pass was.
#[must_use]
pub fn kept_tip(number: u32, contrast_db: Option<f64>, integrated_lufs: Option<f64>) -> String {
    format!(
        "Kept pass {number}: hit contrast {}, integrated {}.",
        value(contrast_db, "dB"),
        value(integrated_lufs, "LUFS")
    )
}

/// Name of a button that forgets a kept pass.
#[must_use]
pub fn forget_name(number: u32) -> String {
    format!("{FORGET} kept pass {number}")
}

/// A leak's lane in the song view.
#[must_use]
pub fn lane(kind: LeakKind) -> &'static str {
    leak_name(kind)
}

/// The song view in words.
#[must_use]
pub fn spoken_song(from: &str, to: &str, contrast_db: Option<f64>) -> String {
    format!(
        "Picture of the song from {from} to {to}: hit contrast {}. {SONG_HOW}",
        value(contrast_db, "dB")
    )
}

/// A section of the song, by its number.
#[must_use]
pub fn section(number: usize) -> String {
    format!("Section {number}")
}
/// Its loudness.
pub const SECTION_LOUDNESS: &str = "Its loudness";
/// Its hit contrast.
pub const SECTION_CONTRAST: &str = "Its contrast";

/// A section in words.
#[must_use]
pub fn spoken_section(number: usize, loudness: Option<f64>, contrast: Option<f64>) -> String {
    format!(
        "{}: loudness {}, contrast {}",
        section(number),
        value(loudness, "LUFS"),
        value(contrast, "dB")
    )
}

/// A place in the song in words.
#[must_use]
pub fn spoken_moment(time: &str, loudness: Option<f64>, contrast: Option<f64>) -> String {
    format!("{time}: short-term {}, contrast {}", value(loudness, "LUFS"), value(contrast, "dB"))
}

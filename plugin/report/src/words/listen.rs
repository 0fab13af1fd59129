//! Words of what is written to be listened to, and of the page to listen on.

use brunt_engine::Mending;

use super::number::{count, seconds, value};
use crate::listen::ListenReport;

/// The mix itself.
pub const MIX: &str = "As it is";
/// The parts' sum, where the mix is not made of them.
pub const PARTS: &str = "Sum of the parts";
/// The mix before the limiter.
pub const BEFORE: &str = "Before the limiter";
/// Parts placed.
pub const TIMING: &str = "Notes in time";
/// Layers and rhythms.
pub const CLUTTER: &str = "Less clutter";
/// Guitars.
pub const DRIVE: &str = "Less guitar gain";
/// Another take of the guitars.
pub const TAKE_B: &str = "Take B of the guitars";
/// Tone.
pub const MIDS: &str = "Mids restored";
/// Another record.
pub const REFERENCE: &str = "Reference";

/// What was changed: nothing.
pub const MIX_WHAT: &str = "The mix, untouched but for its level.";
/// What was changed: the sum.
pub const PARTS_WHAT: &str =
    "The mix is not made of these parts, so their sum takes its place below.";
/// What was changed: the limiter.
pub const BEFORE_WHAT: &str = "The same passage of the mix before the limiter, lined up.";
/// What was changed: another song.
pub const REFERENCE_WHAT: &str = "The loudest passage of the reference, as long as this one.";

/// Why a version is missing: no input.
pub const NEEDS_BEFORE: &str = "Needs the mix before the limiter: --before FILE.";
/// Why a version is missing: no parts.
pub const NEEDS_PARTS: &str = "Needs the parts: --part ROLE=FILE.";
/// Why a version is missing: no guitars.
pub const NEEDS_GUITAR: &str = "Needs a guitar part: --part guitars=FILE.";
/// Why a version is missing: nothing to hear.
pub const NOTHING: &str = "Costs next to nothing here: there would be nothing to hear.";
/// Why a version is missing: unknown.
pub const UNKNOWN_HERE: &str = "Not known of this mix.";
/// Why a version is missing: another song.
pub const NOT_THIS_MIX: &str = "The file given as --before is not found to be this mix.";

/// Why a version is missing: the other file is shorter.
pub const NOT_COVERED: &str = "The file given as --before does not cover this passage.";
/// Why a version is missing: nothing to play.
pub const SILENT_HERE: &str = "Silent in this passage.";

/// One part turned down.
#[must_use]
pub fn lower(part: &str, db: f64) -> String {
    format!("{part} {db:.0} dB lower")
}

/// What that is.
#[must_use]
pub fn lower_what(part: &str, db: f64) -> String {
    format!("The fader of {part} pulled down by {db:.0} dB. Nothing else changes.")
}

/// What was moved.
#[must_use]
pub fn timing_what(parts: &[String]) -> String {
    format!("Notes placed with the hits that they belong to: {}.", list(parts))
}

/// Layers that are muted, and rhythms that are played with the drums.
#[must_use]
pub fn clutter_what(muted: &[String], retimed: &[String]) -> String {
    let mut said = Vec::new();
    if !muted.is_empty() {
        said.push(format!("Muted: {}.", list(muted)));
    }
    if !retimed.is_empty() {
        said.push(format!("Notes placed with the drums: {}.", list(retimed)));
    }
    said.join(" ")
}

/// Guitars with their dynamics back.
#[must_use]
pub fn drive_what(parts: &[String]) -> String {
    format!(
        "Dynamics that gain took given back, by level alone; the distortion stays: {}.",
        list(parts)
    )
}

/// Another take. `said`: how each compares with the part that it takes the place of.
#[must_use]
pub fn take_b_what(said: &[String]) -> String {
    let mut what = "Take B in the guitars' place, as loud as they are.".to_owned();
    for says in said {
        what.push(' ');
        what.push_str(says);
    }
    what
}

/// The change of tone.
#[must_use]
pub fn mids_what(mending: &Mending) -> String {
    let db = value(Some(mending.size_db()), "dB");
    if mending.fills_dip() {
        format!("A wide dip near 700 Hz filled by {db}.")
    } else {
        format!("Shelves near 60 Hz and 12 kHz taken down by {db}.")
    }
}

/// The passage in a line.
#[must_use]
pub fn passage(from_s: f64, to_s: f64) -> String {
    format!("{} to {}", seconds(from_s), seconds(to_s))
}

/// Heads of the table on a terminal.
pub const COLUMNS: [&str; 4] = ["Version", "predicted", "measured", "contrast"];
/// Over the causes without a version.
pub const LEFT_OUT: &str = "No version";

/// Over the table: which passage, how loud.
#[must_use]
pub fn passage_says(report: &ListenReport) -> String {
    let cut = &report.passage;
    let why = if cut.chosen_by == "brunt" { ", where most is lost" } else { "" };
    format!(
        "Passage {}{why}: every file {} integrated, under {}.",
        passage(cut.from_s, cut.to_s),
        value(Some(report.loudness_lufs), "LUFS"),
        value(Some(report.most_dbtp), "dBTP")
    )
}

/// Under the table: what its numbers are.
#[must_use]
pub fn numbers_say(report: &ListenReport) -> String {
    format!(
        "Gain of the hits, dB of hit contrast, median over {} (mids: gain from 200 Hz to 4 kHz at one \
         loudness); measured on the written files.",
        count(report.passage.hits as u64, "hit")
    )
}

/// Title of the page.
pub const TITLE: &str = "Listening page";
/// Title of the player.
pub const PLAYER: &str = "Listen";
/// Title of the versions.
pub const VERSIONS: &str = "Versions";
/// Title of the blind comparison.
pub const BLIND: &str = "Blind comparison";
/// Title of the keys.
pub const KEYS: &str = "Keys";
/// Title of the causes without a version.
pub const WITHOUT: &str = "No version of";
/// Where scripts do not run.
pub const NO_SCRIPT: &str =
    "This page needs its script to play. The files themselves are next to it:";
/// Next to the volume.
pub const CARE: &str = "Start quietly, then turn up with care: the next sound may be louder.";

/// Names of the controls.
pub const LOOP: &str = "Loop";
/// Sets the start of the loop.
pub const LOOP_FROM: &str = "Loop from here";
/// Sets its end.
pub const LOOP_TO: &str = "Loop to here";
/// Takes the whole passage again.
pub const LOOP_ALL: &str = "Whole passage";
/// The place in the passage.
pub const PLACE: &str = "Place in the passage";
/// The volume.
pub const VOLUME: &str = "Volume";
/// Hears a version.
pub const HEAR: &str = "Hear";
/// Before what it should gain.
pub const PREDICTED: &str = "predicted";
/// Before what it does gain.
pub const MEASURED: &str = "measured";
/// Before its contrast.
pub const CONTRAST: &str = "hit contrast";
/// The bar: what is there.
pub const HAS: &str = "hit contrast of the version that it is compared with";
/// The cap: what it gains.
pub const GAINS: &str = "what the hits gain";

/// What the blind comparison is.
pub const BLIND_SAYS: &str = "X is A or B, drawn anew in each trial. Say which, in every trial: a guess \
                              counts. Choose the number of trials before you start.";
/// What its result means.
pub const BLIND_MEANS: &str = "Under 5 % is commonly taken as heard. Over it, a difference may still be \
                               there: it was not shown.";
/// Picks A.
pub const PICK_A: &str = "A";
/// Picks B.
pub const PICK_B: &str = "B";
/// Number of trials.
pub const TRIALS: &str = "Trials";
/// Starts it.
pub const BEGIN: &str = "Start";
/// Two of one.
pub const SAME: &str = "Choose two different versions.";
/// An answer.
pub const IS_A: &str = "X is A";
/// An answer.
pub const IS_B: &str = "X is B";
/// Ends it early.
pub const GIVE_UP: &str = "Stop here";
/// The line to copy.
pub const LINE: &str = "Result in a line";
/// Copies it.
pub const COPY: &str = "Copy";

/// What the page's script says, by name; `{...}` is filled in there.
pub const SCRIPT: &[(&str, &str)] = &[
    ("play", "Play"),
    ("stop", "Stop"),
    ("ready", ""),
    (
        "no_sound",
        "No sound yet: the browser has not started its audio output. Check the output device.",
    ),
    ("failed", "The audio in this page cannot be decoded ({why})."),
    ("silent", "silent"),
    ("hidden", "Hidden while the comparison runs"),
    ("trial", "Trial {n} of {trials}"),
    ("hear_x", "Hear X before you answer."),
    ("decide", "Which one is X?"),
    ("score", "{right} of {done} right"),
    ("odds", "Guessing gets as many or more in {percent} % of such comparisons."),
    ("copied", "Copied."),
    (
        "line",
        "Brunt blind comparison: {right} of {done} right, by guessing as many or more with probability \
         {chance} (exact binomial) | A: {a} | B: {b} | {mix}, {from} to {to} | {day}",
    ),
    (
        "line_short",
        "Brunt blind comparison, stopped early ({done} of {trials} trials): {right} of {done} right, by \
         guessing as many or more with probability {chance} (exact binomial) | A: {a} | B: {b} | {mix}, \
         {from} to {to} | {day}",
    ),
];

/// The keys and what they do.
pub const KEY_LIST: [(&str, &str); 9] = [
    ("Space or P", "play, stop"),
    ("1 to 9", "hear that version"),
    (", and .", "a second back, a second on"),
    ("L", "loop on and off"),
    ("[ and ]", "loop from here, to here"),
    ("\\", "loop the whole passage"),
    ("\u{2212} and +", "volume down, up"),
    ("A, B, X", "blind comparison: hear A, B or X"),
    ("Shift+A, Shift+B", "blind comparison: X is A, X is B"),
];

/// Names in a row.
fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

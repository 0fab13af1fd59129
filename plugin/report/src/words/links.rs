//! Words about linked instances, and what all parts together say about each leak.

use brunt_engine::parts::{PartCosts, PartRole, PartTrack, PartsReading};
use brunt_engine::{CeilingKind, LeakKind, Leaks, State};

use super::number::{clock, count, signed, value};
use super::{
    advice, clutter_advice, clutter_says, drive_advice, drive_says, timing_advice, timing_says,
};

/// Evidence and advice for timing, clutter and drive, in that order.
#[must_use]
pub fn parts_say(tracks: &[PartTrack], reading: &PartsReading) -> [(String, String); 3] {
    let leaks = Leaks {
        timing: reading.timing.leak,
        clutter: reading.clutter.leak,
        drive: reading.drive.leak,
        ..Leaks::default()
    };
    let or_general = |special: Option<String>, kind| special.unwrap_or(advice(&leaks, kind));
    [
        (timing_says(tracks, &reading.timing), timing_advice(tracks, &reading.timing)),
        (
            clutter_says(tracks, &reading.clutter),
            or_general(
                clutter_advice(tracks, &reading.clutter, &reading.timing),
                LeakKind::Clutter,
            ),
        ),
        (
            drive_says(tracks, &reading.drive),
            or_general(drive_advice(tracks, &reading.drive), LeakKind::Drive),
        ),
    ]
}

/// Before the roles, for assistive technology.
pub const ROLE: &str = "Role";
/// What the roles are for.
pub const ROLE_TIPS: [&str; 6] = [
    "On the mix bus: measures the mix, and reads the parts.",
    "On a part's bus: drums and percussion.",
    "On a part's bus: bass.",
    "On a part's bus: guitars.",
    "On a part's bus: vocals.",
    "On a part's bus: anything else.",
];
/// The roles.
pub const ROLES: [&str; 6] = ["Mix bus", "Drums", "Bass", "Guitars", "Vocals", "Other"];

/// Field for the part's name.
pub const NAME: &str = "Name of this part";
/// In the empty field, where the host gives no name.
pub const NAME_EMPTY: &str = "Name";
/// What it is for.
pub const NAME_TIP: &str = "The name under which the mix bus lists this part. Empty: the name of \
                            the track, where the host gives one.";
/// Before the trim.
pub const TRIM: &str = "Trim";
/// The same for assistive technology.
pub const TRIM_NAME: &str = "Trim of this part, ms";
/// Unit of the trim.
pub const TRIM_UNIT: &str = "ms";
/// What it is for.
pub const TRIM_TIP: &str = "Timing correction, measurement only: positive counts the part as later. \
                            For a track late by its plug-ins' latency, enter that as a negative \
                            number. Audio is not moved.";

/// An instance on a part.
pub const IS_PART: &str = "This Brunt measures a part.";
/// What that means.
pub const IS_PART_HOW: &str = "The Brunt on the mix bus shows its timing, clutter and guitar gain.";
/// What else it means.
pub const IS_PART_MORE: &str = "A part is not measured as a mix: loudness and hits stay empty \
                                here. To see its timing here, send the drums to the side-chain \
                                and choose Partner.";

/// The same on the drums.
pub const IS_DRUMS_MORE: &str = "The drums' own hits, and what a limiter or clipper takes from \
                                 them, are measured here too: see Hits and Song. The Brunt on \
                                 the mix bus lists it with the part.";

/// A leak on an instance that hears a part.
pub const PART_LEAK: &str = "Shown on the mix bus.";

/// No other instance is there.
pub const ALONE: &str = "No other Brunt found";
/// What to do then.
pub const ALONE_HOW: &str = "Put one on each part's bus too and choose there, under Parts, what it \
                             plays. Timing, clutter and guitar gain then show here, live.";
/// What to do where that does not help.
pub const ALONE_APART: &str = "Done already? Then this host runs each plug-in in a process of its \
                               own, or one is a CLAP and the other a VST3. Set the host to run \
                               them together. Or, on a part, send the drums to the side-chain as \
                               Partner. Or bounce the parts as stems and run:";
/// Others are there, none of them a part.
pub const NO_PARTS_HOW: &str = "None is set to a part. Open each on its part's bus and \
                                choose there, under Parts, what it plays.";
/// Parts are there and were not heard.
pub const NOT_HEARD_HOW: &str = "Start the transport: parts are lined up by song position. Until \
                                 then timing, clutter and guitar gain are unknown.";
/// The host gives no position.
pub const NO_POSITION: &str = "This host gives no song position";
/// What to do then.
pub const NO_POSITION_HOW: &str = "Without it parts can't be lined up: timing, clutter and \
                                   guitar gain stay unknown. Bounce the parts as stems and run:";

/// What a report says of a leak that linked parts would show: none was heard yet.
pub const LINKED_NOT_HEARD: &str = "Parts are linked and were not heard yet: they are lined up by \
                                    song position while the transport runs. Where a host gives \
                                    none, run brunt check --part.";
/// The same: the host gives no position.
pub const LINKED_NO_POSITION: &str = "Parts are linked, and this host gives no song position to line \
                                      them up by: bounce them as stems and run brunt check --part.";

/// Heads of the columns.
pub const COLUMNS: [&str; 4] = ["Part", "Offset", "Spread", "Cost"];
/// What the columns hold.
pub const COLUMN_TIPS: [&str; 4] = [
    "Every Brunt in this host that is set to a part.",
    "How late the part is against the reference: median, ms. Negative is early.",
    "How far its notes stray around that offset: standard deviation, ms.",
    "Hit contrast this part costs, through its worst leak.",
];
/// The part that the others are read against.
pub const REFERENCE: &str = "reference";

/// The row of a part without numbers: never heard, or not where the others were heard last.
pub const WAITING: &str = "not heard here yet";
/// The same: no position.
pub const PART_NO_POSITION: &str = "no song position";
/// The same: another sample rate.
pub const OTHER_RATE: &str = "other sample rate";
/// The same: silent.
pub const SILENT: &str = "silent";

/// How many others there are, none of them a part.
#[must_use]
pub fn no_parts(others: usize) -> String {
    format!("{} heard, no part", count(others as u64, "other Brunt"))
}

/// How many parts there are, none heard.
#[must_use]
pub fn not_heard(parts: usize) -> String {
    format!("{} linked, not heard yet", count(parts as u64, "part"))
}

/// Where the parts were read, and whether they still play.
#[must_use]
pub fn passage(parts: usize, from_s: f64, to_s: f64, playing: bool) -> String {
    let heard = format!(
        "{} heard, {} to {} of the song",
        count(parts as u64, "part"),
        clock(from_s),
        clock(to_s)
    );
    if playing { format!("{heard}.") } else { format!("{heard}; transport stopped.") }
}

/// Which rows are in sight.
#[must_use]
pub fn rows(first: usize, last: usize, of: usize) -> String {
    format!("{first} to {last} of {of}")
}

/// The rows in words, for assistive technology.
#[must_use]
pub fn spoken_rows(first: usize, last: usize, of: usize) -> String {
    format!("Parts {first} to {last} of {of}. {ROWS_HOW}")
}

/// How to get to the others.
pub const ROWS_HOW: &str = "Scroll, or go with the arrow keys, Page Up, Page Down, Home and End.";

/// Where parts were read from a saved session.
#[must_use]
pub fn saved(parts: usize) -> String {
    format!("{}, from the saved session.", count(parts as u64, "part"))
}

/// A part's name, or what it plays where it has none.
#[must_use]
pub fn name(name: &str, role: PartRole) -> String {
    if name.is_empty() { role_word(role).to_owned() } else { name.to_owned() }
}

/// The word for what a part plays.
#[must_use]
pub const fn role_word(role: PartRole) -> &'static str {
    role.code()
}

/// An offset that is not known because it is the one that the others are read against, or the
/// offset in ms.
#[must_use]
pub fn offset(reference: bool, offset_ms: Option<f64>) -> String {
    if reference { REFERENCE.to_owned() } else { signed(offset_ms, "ms") }
}

/// What a limiter or clipper takes from a part's own hits, `reduction_db`, as short as it goes; `None`
/// where that costs next to nothing or is not known.
#[must_use]
pub fn taken(state: State, kind: Option<CeilingKind>, reduction_db: Option<f64>) -> Option<String> {
    let by = match kind {
        Some(CeilingKind::Limiter) => "limiter",
        Some(CeilingKind::Clipper) => "clipper",
        Some(CeilingKind::None) | None => "lost",
    };
    let db = value(reduction_db, "dB");
    state.loses().then(|| format!("{by} {db}"))
}

/// The same, next to what is said of the mix.
#[must_use]
pub fn taken_alone(called: &str, role: PartRole, taken: &str) -> String {
    format!("{} alone: {taken} median.", name(called, role))
}

/// A row in words.
#[must_use]
pub fn spoken(
    called: &str,
    role: PartRole,
    reference: bool,
    offset_ms: Option<f64>,
    spread_ms: Option<f64>,
    costs: &PartCosts,
) -> String {
    let against = if reference {
        "timing reference for the others".to_owned()
    } else {
        format!("offset {}, spread {}", signed(offset_ms, "ms"), value(spread_ms, "ms"))
    };
    format!(
        "{}, {}: {against}; costs: timing {}, clutter {}, guitar gain {}",
        name(called, role),
        role_word(role),
        value(costs.timing_db, "dB"),
        value(costs.clutter_db, "dB"),
        value(costs.drive_db, "dB")
    )
}

/// A row without numbers in words.
#[must_use]
pub fn spoken_without(called: &str, role: PartRole, why: &str) -> String {
    format!("{}, {}: {why}", name(called, role), role_word(role))
}

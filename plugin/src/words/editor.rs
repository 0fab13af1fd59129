//! Words of the editor's own: titles, names of controls, empty states, and the short evidence
//! that fits next to a picture. The whole sentence of [`says`](brunt_report::words::says) is in the tooltip.

use brunt_engine::thresholds::SECTION_HITS;
use brunt_engine::{
    CeilingKind, LeakKind, Leaks, Mids, Need, Punch, RECENT_HITS, Readings, Shape, State,
};

use brunt_report::words::records::mids_among_records;
use brunt_report::words::{
    Term, UNKNOWN, clock, count, further, leak_meaning, links, need, says, shape_word,
    small_speakers, span, term_label, value,
};

use crate::params::SideRole;

/// From this difference on the last hits are shown next to the whole pass, dB. Ours: less lies
/// within the estimate's own range.
const SECTION_DIFFERS_DB: f64 = 1.0;

pub use brunt_report::words::NAME;
/// The name with the version, as host, JSON and report have it.
pub const VERSION: &str = concat!("Brunt ", env!("CARGO_PKG_VERSION"));
/// What Brunt is.
pub const WHAT: &str =
    "Punch meter. The output is the input, bit for bit, unless you listen to something else.";

/// Title of the area that shows the hits.
pub const HITS: &str = "Hits";
/// Title of the leaks.
pub const LEAKS: &str = "Leaks";
/// Title of the low/mid/high balance.
pub const BALANCE: &str = "Balance";
/// Title of the loudness readings.
pub const READINGS: &str = "Readings";
/// Title of the side-chain's line.
pub const SIDE_CHAIN: &str = "Side-chain";

/// Head of the one-line verdict's tooltip.
pub const VERDICT: &str = "In one line";
/// The range under which nine in ten hits do not fall, and over which one in ten rises.
pub const TENTHS: &str = brunt_report::words::PERCENTILES;
/// The stem of a drawn bar.
pub const LEFT: &str = "hit contrast";
/// The cap of a drawn bar.
pub const LOST: &str = "lost to limiting";
/// The ground of the drawn bars: the surroundings of the hits, in a word that the margin has room for.
pub const BED: &str = "around";
/// The median line.
pub const MEDIAN: &str = "median";
/// Unit of the bar lines.
pub const BARS: &str = "bar";
/// Unit of the seconds.
pub const TIME: &str = "time";
/// Name of a hit's place in the host's song.
pub const SONG_POSITION: &str = "Song position";

/// Shown while there are no hits.
pub const NO_HITS: &str = "No hits yet: play the song";
/// What to do then.
pub const NO_HITS_HOW: &str = "Put Brunt last on the mix bus, after the limiter. \
                               Each drum hit, strum or pluck then draws one bar.";

/// The same on the drums.
pub const NO_STROKES_HOW: &str = "Put Brunt last on the drum bus, after its limiter or clipper. \
                                  Each drum hit then draws one bar here.";

/// Unit and meaning of the bars of the leaks.
pub const COST_AXIS: &str = "dB cost";
/// Before the limit of watch, and over both limits.
pub const WATCH_FROM: &str = "limits: watch";
/// Before the limit of leaking.
pub const LEAKING_FROM: &str = "leaking";
/// The same for assistive technology.
pub const WATCH_FROM_NAME: &str = "Watch from, dB of cost";
/// The same for assistive technology.
pub const LEAKING_FROM_NAME: &str = "Leaking from, dB of cost";
/// What the two limits do.
pub const LIMITS: &str = "Cost, in dB of hit contrast, at which a leak turns to watch or leaking: \
                          the two marks on every bar. Drag, or click and type.";

/// The button that starts all measurements afresh.
pub const RESET: &str = "Reset";
/// The same for assistive technology.
pub const RESET_NAME: &str = "Reset all readings";
/// What it does.
pub const RESET_TIP: &str = "Clear all readings, held maxima included.";
/// Before a largest value.
pub const MAX: &str = "max";
/// Before a smallest value.
pub const MIN: &str = "min";
/// Before the largest sample.
pub const SAMPLE: &str = "sample";
/// The same where there is little room.
pub const SAMPLE_SHORT: &str = "smpl";
/// What dropped means.
pub const DROPPED_TIP: &str = "Dropped: hits, bar lines or history points that came while the \
                               window was closed for long. The readings still count them.";

/// The switch of the reset on a start of the host's transport.
pub const FOLLOW: &str = "Reset on transport start";
/// What it does.
pub const FOLLOW_TIP: &str = "Clear all readings whenever the host starts to play.";
/// The switch that turns measuring off.
pub const BYPASS: &str = "Bypass";
/// What it does.
pub const BYPASS_TIP: &str = "Stop measuring. Audio passes unchanged either way.";
/// Name of the button that makes everything smaller.
pub const SMALLER: &str = "Smaller window";
/// Name of the button that makes everything larger.
pub const LARGER: &str = "Larger window";
/// The button that turns to the light theme.
pub const LIGHT: &str = "Light";
/// The button that turns to the dark theme.
pub const DARK: &str = "Dark";
/// What these two do.
pub const THEME_TIP: &str = "Switch between dark and light theme.";

/// The measuring code failed.
pub const FAULT: &str = "Measuring has failed and is off.";
/// What to do then.
pub const FAULT_HOW: &str = "Audio passes unchanged. Press Reset to start again.";
/// The host's sample rate cannot be measured.
pub const RATE: &str = "Brunt does not measure at this sample rate.";
/// What to do then.
pub const RATE_HOW: &str = "Audio passes unchanged. Brunt measures from 8 to 384 kHz.";
/// A frame of the window failed.
pub const WINDOW_FAILED: &str = "This window has failed. Audio passes unchanged and measuring goes \
                                 on. Close the window and open it again.";
/// Why a report is not written, where no check had foreseen it.
pub const REPORT_FAILED: &str = "making the page failed";
/// Measuring is off.
pub const BYPASSED: &str = "Bypassed: nothing is measured.";
/// What that means.
pub const BYPASSED_HOW: &str = "Audio passes unchanged; the readings below are from before.";
/// The readings come from a saved session.
pub const SAVED: &str = "From the saved session.";
/// What that means.
pub const SAVED_HOW: &str = "Nothing has played since it was opened; play to measure again.";

/// The side-chain carries nothing. A silent one and an unconnected one look alike from here.
pub const SIDE_NO_SIGNAL: &str = "Side-chain: no signal";
/// The side-chain carries a signal.
pub const SIDE_SIGNAL: &str = "Side-chain: signal";
/// The same beside the title.
pub const NO_SIGNAL: &str = "no signal";
/// Role: nothing to look at.
pub const ROLE_OFF: &str = "Off";
/// Role: the mix ahead of the limiter.
pub const ROLE_BEFORE: &str = "Before";
/// Role: a reference track.
pub const ROLE_REFERENCE: &str = "Reference";
/// Role: another part.
pub const ROLE_PARTNER: &str = "Partner";
/// What the role means.
pub const ROLE_OFF_TIP: &str = "Ignore the side-chain.";
/// What the role means.
pub const ROLE_BEFORE_TIP: &str = "The side-chain carries the same mix before the limiter.";
/// What the role means.
pub const ROLE_REFERENCE_TIP: &str = "The side-chain carries a reference track.";
/// What the role means.
pub const ROLE_PARTNER_TIP: &str = "The side-chain carries another part of this mix. If this \
                                    Brunt is set to a part, Parts shows the timing of the two \
                                    against each other.";

/// What to route to the side-chain, by role.
#[must_use]
pub const fn side_need(role: SideRole) -> &'static str {
    match role {
        SideRole::Before => "Send the mix from before the limiter to Brunt's side-chain.",
        SideRole::Reference => "Send a reference track to Brunt's side-chain.",
        SideRole::Partner => "Send the other part to Brunt's side-chain.",
        SideRole::Off => "Not needed for the readings above.",
    }
}

/// What the signal on the side-chain is taken for, by role.
#[must_use]
pub const fn side_hint(role: SideRole) -> &'static str {
    match role {
        SideRole::Before => "momentary, the mix before the limiter",
        SideRole::Reference => "momentary, reference track",
        SideRole::Partner => "momentary, another part",
        SideRole::Off => "momentary; choose what it carries",
    }
}

/// A short name of a reading, for the narrow cells of the readings.
#[must_use]
pub const fn short_label(term: Term) -> &'static str {
    match term {
        Term::Range => "LRA",
        other => term_label(other),
    }
}

/// The shortest name of a reading: the signs of EBU Tech 3341 and 3342, and of the trade.
#[must_use]
pub const fn shortest_label(term: Term) -> &'static str {
    match term {
        Term::Momentary => "M",
        Term::ShortTerm => "S",
        Term::Integrated => "I",
        Term::Range => "LRA",
        Term::TruePeak => "TP",
        Term::PsrMedian => "PSR med",
        other => term_label(other),
    }
}

/// What the big figure is a median of.
#[must_use]
pub fn recent(hits: u64) -> String {
    match hits {
        0 => "hit contrast".to_owned(),
        n if n >= RECENT_HITS as u64 => format!("hit contrast, last {n} hits"),
        n => format!("hit contrast, {}", count(n, "hit")),
    }
}

/// The big figure in words, for assistive technology.
#[must_use]
pub fn spoken_contrast(punch: &Punch) -> String {
    let median = value(punch.contrast_db, "dB");
    format!("{} {median}, median of {}", term_label(Term::Contrast), count(punch.hits, "hit"))
}

/// The picture of the hits in words, for assistive technology.
#[must_use]
pub fn spoken_hits(shown: usize, length_s: f64, punch: &Punch) -> String {
    let range = match (punch.contrast_p10_db, punch.contrast_p90_db) {
        (Some(low), Some(high)) => format!(", {TENTHS} {}", span(low, high, "dB")),
        _ => String::new(),
    };
    format!(
        "Picture of {} in {length_s:.0} s: median {}{range}. Arrow keys go from hit to hit.",
        count(shown as u64, "hit"),
        value(punch.contrast_db, "dB"),
    )
}

/// A song position: quarter notes from the start of the song.
#[must_use]
pub fn quarters(beat: f64) -> String {
    format!("{beat:.2} quarters")
}

/// How much was measured.
#[must_use]
pub fn measured(time_s: f64) -> String {
    // A counter shows whole seconds that have passed.
    format!("measured {}", clock(time_s.floor()))
}

/// What went wrong with the input or on the way to the window; `None` when nothing did.
#[must_use]
pub fn health(nan: u64, inf: u64, dropped: u64) -> Option<String> {
    let parts: Vec<String> = [(nan, "NaN"), (inf, "too large"), (dropped, "dropped")]
        .into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{n} {word}"))
        .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// The stream: sample rate, channels, transport.
#[must_use]
pub fn stream(sample_rate_hz: f64, channels: usize, playing: bool) -> String {
    if sample_rate_hz <= 0.0 || channels == 0 {
        return "waiting for the host".to_owned();
    }
    let channels = if channels == 1 { "mono" } else { "stereo" };
    let transport = if playing { "playing" } else { "stopped" };
    let khz = format!("{:.1}", sample_rate_hz / 1_000.0);
    let khz = khz.strip_suffix(".0").unwrap_or(&khz);
    format!("{khz} kHz, {channels}, {transport}")
}

/// The scale of the interface.
#[must_use]
pub fn scale(scale: f32) -> String {
    let text = format!("{scale:.1}");
    format!("{}\u{d7}", text.strip_suffix(".0").unwrap_or(&text))
}

/// The evidence for a leak in a few words.
#[must_use]
pub fn evidence(leaks: &Leaks, kind: LeakKind) -> String {
    let leak = leaks.get(kind);
    if leak.state == State::Unknown {
        return match leak.need {
            Need::Parts => "Needs the parts, each on its own.".to_owned(),
            Need::GuitarPart => "Needs the guitars on their own.".to_owned(),
            Need::Mix => links::PART_LEAK.to_owned(),
            // Nothing has played: the place to say what this leak is.
            Need::Nothing | Need::Signal => sentence(leak_meaning(kind)),
            other => need(&other),
        };
    }
    match kind {
        LeakKind::Ceiling => ceiling(leaks),
        LeakKind::Mids => mids(&leaks.mids),
        LeakKind::Timing | LeakKind::Clutter | LeakKind::Drive => says(leaks, kind),
    }
}

/// What the state of the mids goes by, and what small speakers lose: the cost is that of full-range ones.
fn mids(mids: &Mids) -> String {
    let Some(deficit) = mids.mid_deficit_db else { return format!("Mid deficit {UNKNOWN}.") };
    let shape = match mids.shape {
        None | Some(Shape::Even) => String::new(),
        Some(shape) => format!(", {}", shape_word(shape)),
    };
    let what = match (mids.beside, mids.state, mids.percentile) {
        (Some(beside), ..) => {
            let over = further(&beside);
            format!("Lows and highs exceed the mids by {over} than in the reference{shape}.")
        }
        (None, State::Watch | State::Leaking, Some(percentile)) => {
            format!("Mids {}{shape}.", mids_among_records(percentile))
        }
        // How far that is from the curve it does not say: its definition does.
        _ => format!("Mid deficit {}{shape}.", value(Some(deficit), "dB")),
    };
    match small_speakers(mids) {
        Some(small) => format!("{what} {small}"),
        None => what,
    }
}

/// What the last hits say of a leak where that differs from the whole pass, as while a limiter is
/// being moved; `None` where it does not, is not known, or is not read: only the ceiling has a
/// reading of its own for them.
#[must_use]
pub fn section(readings: &Readings, kind: LeakKind) -> Option<String> {
    if kind != LeakKind::Ceiling {
        return None;
    }
    let (whole, recent) = (&readings.leaks.ceiling, &readings.ceiling_recent);
    let (now, ever) = (recent.implied_reduction_db?, whole.implied_reduction_db?);
    let hits = count(SECTION_HITS as u64, "hit");
    ((now - ever).abs() >= SECTION_DIFFERS_DB)
        .then(|| format!("Last {hits}: gain reduction {} median.", value(Some(now), "dB")))
}

/// Evidence of the whole pass behind what the last hits say.
#[must_use]
pub fn behind_section(section: &str, says: &str) -> String {
    if says.is_empty() { section.to_owned() } else { format!("{section} Whole pass: {says}") }
}

/// Hit contrast on a small speaker, the reason why mids matter; `None` while it is not known.
#[must_use]
pub fn small_speaker(readings: &Readings) -> Option<String> {
    let contrast = readings.small_speaker.contrast_db?;
    Some(format!("On a small speaker: hit contrast {}.", value(Some(contrast), "dB")))
}

fn ceiling(leaks: &Leaks) -> String {
    let c = &leaks.ceiling;
    let at = c.ceiling_dbtp.map_or(String::new(), |at| format!(" at {}", value(Some(at), "dBTP")));
    let most = c
        .implied_reduction_max_db
        .map_or(String::new(), |max| format!(", {} max", value(Some(max), "dB")));
    let how = if c.measured { "measured" } else { "estimated" };
    let takes = match c.implied_reduction_range_db.filter(|_| c.at_least) {
        Some((least, _)) => format!("at least {}", value(Some(least), "dB")),
        None => format!("{} median{most}", value(c.implied_reduction_db, "dB")),
    };
    let reduction = format!("{how} gain reduction {takes}");
    match c.kind {
        Some(CeilingKind::Limiter) => format!("Limiter{at}: {reduction}."),
        Some(CeilingKind::Clipper) => format!("Clipper{at}: {reduction}."),
        Some(CeilingKind::None) | None => format!("No limiting seen; {reduction}."),
    }
}

/// A place for the report could not be found.
pub const NO_HOME: &str = "no folder of your own was found";

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or(String::new(), |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn health_is_silent_only_when_all_is_well() {
        assert_eq!(health(0, 0, 0), None);
        assert_eq!(health(3, 0, 0).as_deref(), Some("3 NaN"));
        assert_eq!(health(3, 1, 12).as_deref(), Some("3 NaN, 1 too large, 12 dropped"));
    }

    #[test]
    fn the_stream_says_what_is_not_known() {
        assert_eq!(stream(0.0, 0, false), "waiting for the host");
        assert_eq!(stream(44_100.0, 2, true), "44.1 kHz, stereo, playing");
        assert_eq!(stream(48_000.0, 1, false), "48 kHz, mono, stopped");
    }

    #[test]
    fn scales_drop_a_needless_decimal() {
        assert_eq!((scale(1.0), scale(2.5)), ("1\u{d7}".to_owned(), "2.5\u{d7}".to_owned()));
    }
}

//! Words of the HTML report: titles, legends, captions, and how it was measured.

use brunt_engine::LeakKind;
use brunt_engine::thresholds::{HIT_CONTRAST_DB, MID_HIGH_HZ};

use super::number::{count, value};

/// Title of the report.
pub const TITLE: &str = "Punch report";
/// The measuring code failed while the pass ran.
pub const FAILED: &str = "Measuring failed during this pass and stopped: what came after that \
                          moment is not in these numbers.";
/// Where the mix has no name.
pub const NO_NAME: &str = "Untitled mix";
/// Title of the leaks.
pub const LEAKS: &str = "What eats the punch";
/// Title of the picture of the hits.
pub const HITS: &str = "Every hit";
/// Title of the history.
pub const HISTORY: &str = "Over the song";
/// Title of the balance.
pub const BALANCE: &str = "Low, mid, high";
/// Title of the parts.
pub const PARTS: &str = "Parts";
/// Title of the comparison.
pub const COMPARE: &str = "Against the other version";
/// Title of the readings.
pub const READINGS: &str = "All readings";
/// Title of how it was measured.
pub const METHOD: &str = "How this was measured";
/// Title of the cautions.
pub const CARE: &str = "Care for your ears";

/// Under the big figure.
pub const CONTRAST: &str = "hit contrast, median over the whole pass";
/// Under its range.
pub const TENTHS: &str = super::PERCENTILES;
/// Before the range of a cost.
pub const RANGE: &str = "90 % range";
/// Before the hits' cost, where the large number is of something else.
pub const HITS_COST: &str = "hits";
/// Before an advice.
pub const TRY: &str = "Try first";
/// The stem of a bar.
pub const LEFT: &str = "hit contrast";
/// The cap of a bar.
pub const LOST: &str = "lost to limiting";
/// The ground of the bars.
pub const BED: &str = "surroundings of the hits";
/// The median line.
pub const MEDIAN: &str = "median";
/// Shown where there are no hits.
pub const NO_HITS: &str = "No hits were found: nothing rises far enough above its surroundings.";
/// Heads of the table of the readings.
pub const COLUMNS: [&str; 3] = ["Reading", "Value", "What it means, and the source"];

/// Groups of the readings.
pub const GROUP_LOUDNESS: &str = "Loudness";
/// Groups of the readings.
pub const GROUP_PEAKS: &str = "Peaks and dynamics";
/// Groups of the readings.
pub const GROUP_HITS: &str = "Hits";
/// Groups of the readings.
pub const GROUP_SMALL: &str = "On a small speaker";
/// Groups of the readings.
pub const GROUP_CEILING: &str = "Limiting";
/// Groups of the readings.
pub const GROUP_BALANCE: &str = "Balance";
/// Groups of the readings.
pub const GROUP_INPUT: &str = "Input";

/// Hit contrast as a small speaker leaves it: name and meaning.
pub const SMALL_CONTRAST: (&str, &str) = (
    "Hit contrast, small speaker",
    "Median hit contrast after the high-pass below, with 10th and 90th percentile. \
     Our own definition.",
);
/// Hits that a small speaker swallows: name and meaning.
pub const SMALL_VANISHED: (&str, &str) = (
    "Hits that vanish",
    "Hits that no longer stand out enough to count there. Our own definition.",
);
/// The high-pass that imitates a small speaker: name and meaning.
pub const SMALL_HIGH_PASS: (&str, &str) = (
    "High-pass",
    "Second-order high-pass that imitates a small speaker. Common practice, no source.",
);
/// Level of the hits as a listener gets them.
pub const LISTENER: (&str, &str) = (
    "Hits as played at -14 LUFS",
    "Median level of the hits after a player has set the mix to -14 LUFS. It turns a mix up only \
     until the true peak is -1 dBTP.",
);

/// The third octaves in words, for assistive technology.
pub const THIRDS: &str = "1/3-octave bands against the long-term curve";
/// How to read the third octaves.
pub const THIRDS_CAPTION: &str =
    "The same in 1/3-octave bands from 25 Hz to 20 kHz, each against the curve; a line every 6 dB.";

/// One third octave, when pointed at.
#[must_use]
pub fn third(hz: f64, over_curve_db: Option<f64>, level_dbfs: Option<f64>) -> String {
    format!(
        "{}: {} against the curve, level {}",
        frequency(hz),
        super::number::signed(over_curve_db, "dB"),
        value(level_dbfs, "dBFS")
    )
}

/// A frequency as `315 Hz` or `1.25 kHz`.
#[must_use]
pub fn frequency(hz: f64) -> String {
    if hz < 999.5 {
        return format!("{hz:.0} Hz");
    }
    let khz = format!("{:.2}", hz / 1e3);
    format!("{} kHz", khz.trim_end_matches('0').trim_end_matches('.'))
}

/// What the parts together cost, by its name in the JSON; `None` for what is shown elsewhere.
#[must_use]
pub fn timing_fact(name: &str) -> Option<Fact> {
    let (label, meaning) = match name {
        "spread_cost_db" => ("Cost of the spread", "What you would recover without it."),
        "offset_cost_db" => ("Cost of the offsets", "What you would recover without them."),
        _ => return None,
    };
    Some(Fact { label, unit: "dB", meaning })
}

/// What the scale of the costs shows.
#[must_use]
pub fn leaks_intro(watch_db: f64, leaking_db: f64) -> String {
    format!(
        "The bar is the cost: the hit contrast, in dB, that you would recover if this cause alone \
         were gone. For timing and guitar gain it is attack that the parts would recover. The line \
         under it is its 90 % range. The marks, at {} and {}, are where a leak turns to watch and to \
         leaking. Limiting, timing and mids weigh further evidence too.",
        value(Some(watch_db), "dB"),
        value(Some(leaking_db), "dB"),
    )
}

/// How to read the picture of the hits. `merged` is the length of the stretches that are drawn as
/// one stroke where the hits lie too close, s; `over` is the top of the picture, dB, where a stroke
/// reaches past it.
#[must_use]
pub fn hits_caption(
    row_s: f64,
    line_s: f64,
    db: f64,
    merged: Option<f64>,
    over: Option<f64>,
) -> String {
    let over = match over {
        Some(db) => format!(" Bars at the top edge are higher than {db:.0} dB."),
        None => String::new(),
    };
    let bars = match merged {
        Some(s) => format!("Each bar is the median of the hits in {}.", value(Some(s), "s")),
        None => "Each bar is one hit.".to_owned(),
    };
    format!(
        "{bars} Its height is the hit contrast in dB. A row is {row_s:.0} s long, with a line \
         every {line_s:.0} s and every {db:.0} dB.{over}"
    )
}

/// The picture of the hits for assistive technology.
#[must_use]
pub fn hits_row(from: &str, to: &str, hits: usize) -> String {
    format!("{} from {from} to {to}", count(hits as u64, "hit"))
}

/// Numbers of one hit, when pointed at.
#[must_use]
pub fn hit(time: &str, contrast: &str, lost: &str, peak: &str) -> String {
    format!("{time}: contrast {contrast}, lost peak {lost}, peak {peak}")
}

/// How to read the history; `parts` says whether there are costs that the parts show.
#[must_use]
pub fn history_caption(step_s: f64, parts: bool) -> String {
    let kind = if parts { "the cost of limiting and mids" } else { "a cost" };
    let mut line = format!(
        "A point every {step_s:.1} s. Hit contrast is the median of the latest hits. For {kind} it \
         shows what was known at that time, from the start of the passage on."
    );
    if parts {
        line.push(' ');
        line.push_str(PART_COSTS);
    }
    line
}

/// What the costs of timing, clutter and drive over time are.
pub const PART_COSTS: &str = "Timing, clutter and guitar gain: the mean over the main hits of the \
                              five seconds around, as the parts were last heard at that place.";

/// Heads of the table of sections: number, time, loudness.
pub const SECTION: &str = "Section";
/// From when to when.
pub const SECTION_TIME: &str = "Time";
/// Power mean of the short-term loudness.
pub const SECTION_LOUDNESS: &str = "Loudness";
/// How to read the sections.
pub const SECTIONS_CAPTION: &str = "Dotted lines: where sections begin, found from loudness and hit \
                                    contrast and good to about 2 s. Listen first to the section whose hits \
                                    stand out least.";

/// Name of a track of the history: a leak's cost over time.
#[must_use]
pub fn cost_of(kind: LeakKind) -> String {
    format!("Cost of {}", super::leak_name(kind).to_lowercase())
}

/// How to read the balance.
pub const BALANCE_CAPTION: &str = "Each band against the long-term curve of commercial tracks (after Elowsson & Friberg 2017), with \
     the mean of the three taken out. The curve is a mean of many songs, not a target.";

/// How it was measured, a paragraph each.
#[must_use]
pub fn method(version: Option<&str>, watch_db: f64, leaking_db: f64) -> Vec<String> {
    let made = match version {
        Some(version) => format!("Made by Brunt {version}. "),
        None => String::new(),
    };
    vec![
        format!(
            "{made}Loudness, true peak and their statistics follow ITU-R BS.1770-5, EBU R 128 and \
             EBU Tech 3341 and 3342. All other definitions are next to their readings above."
        ),
        format!(
            "A hit is a sudden rise of level, such as a drum, a strum or a pluck, at least \
             {HIT_CONTRAST_DB:.0} dB above its surroundings. Hit contrast is that difference in \
             dB, so turning the mix up or down changes nothing. A leak is one of five causes \
             that take hit contrast away. Clutter is other rhythms and long notes that fill the \
             space between hits."
        ),
        format!(
            "The cost of a leak is the hit contrast that you would recover without it, in dB. For timing \
             and guitar gain it is attack that the parts would recover; what the mix's hits lose comes \
             second. Costs are estimates. Read the 90 % range first: where it is wide, the evidence is thin. States: clear; watch from {}; leaking from {}; unknown where the evidence is \
             missing. Unknown is never counted as clear.",
            value(Some(watch_db), "dB"),
            value(Some(leaking_db), "dB"),
        ),
        format!(
            "Limiting is estimated from the hits of the mix alone: how little their peaks vary \
             against how much their bodies vary. Mids are judged between the lows and the highs above \
             {:.0} kHz. To check that a change helped, measure again and compare the hit contrast. \
             Level does not matter for it.",
            MID_HIGH_HZ / 1_000.0
        ),
    ]
}

/// What one number of a part or a comparison is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fact {
    /// Its name.
    pub label: &'static str,
    /// Its unit; `%` for a share from 0 to 1, empty for a count.
    pub unit: &'static str,
    /// What it means, in one sentence, or nothing where the name says it.
    pub meaning: &'static str,
}

/// How to read the parts.
pub const PARTS_CAPTION: &str = "Each part measured on its own, against the hits of the drums. A constant offset is mostly \
     harmless; spread is what smears hits.";

/// Title of the table of a part's timing.
pub const PARTS_TIMING: &str = "Timing";
/// Title of the table of what is taken from the drums' own hits.
pub const PARTS_CEILING: &str = "Limiting on the drums alone";
/// Title of the table of its rhythm and of what it fills.
pub const PARTS_CLUTTER: &str = "Clutter";
/// Title of the table of the guitars' gain.
pub const PARTS_DRIVE: &str = "Guitar gain";
/// Title of the table of what the hits gain when a part is muted or turned down.
pub const PARTS_LEVELS: &str = "What each part costs the hits";
/// Head of the column of names.
pub const PART: &str = "Part";
/// Under the part that the others are timed against.
pub const THE_REFERENCE: &str = "The others are timed against it.";
/// Under other drums whose hits count with those of the reference.
pub const JOINS_THE_REFERENCE: &str = "The others are timed against its hits, too.";

/// One number of a part, by its place in the JSON; `None` for what is shown elsewhere.
#[must_use]
pub fn part_fact(name: &str) -> Option<Fact> {
    let (label, unit, meaning) = match name {
        "onsets_s" => ("Onsets", "", "Notes and hits found in this part."),
        "offset_ms" => {
            ("Offset", "ms", "How late this part is overall, median; negative is early.")
        }
        "spread_ms" => ("Spread", "ms", "Standard deviation of its notes around that offset."),
        "early_share" => {
            ("Early", "%", "Of its notes more than 2 ms off, those that come before the hit.")
        }
        "shared_onset_ratio" => {
            ("Shared onsets", "%", "Notes shared with the drums, of all notes of both.")
        }
        "own_rhythm" => ("Own rhythm", "%", "Share of its notes that fall where no drum hits."),
        "ceiling/implied_reduction_db" => (
            "Gain reduction",
            "dB",
            "Estimated gain reduction of a limiter or clipper, median over hits.",
        ),
        "ceiling/implied_reduction_low_db" => ("From", "dB", "Lower end of its 90 % range."),
        "ceiling/implied_reduction_high_db" => ("To", "dB", "Upper end of its 90 % range."),
        "ceiling/implied_reduction_p90_db" => ("90th percentile", "dB", "10 % of hits lose more."),
        "if_muted_db" => (
            "If muted",
            "dB",
            "Hit contrast that the mix gains, median over hits; negative where the part carries hits.",
        ),
        "if_3db_lower_db" => ("If 3 dB lower", "dB", "The same with the part 3 dB lower."),
        "held_share" => ("Sustains through", "%", "Share of the main hits that it holds through."),
        "level_spread_db" => {
            ("Level spread", "dB", "How far loud moments stand out; falls as gain rises.")
        }
        "attack_lost_db" => ("Attack lost", "dB", "Pick attack that its gain takes; estimated."),
        "crest_db" => ("Crest", "dB", "Crest factor: sample peak over RMS."),
        "fill_db" => ("Spectral fill", "dB", "Sustain above 4 kHz over that from 200 Hz to 4 kHz."),
        "sustain_ratio" => ("Sustain", "%", "How much of the space between hits it fills."),
        "attack_to_sustain_db" => {
            ("Attack to sustain", "dB", "How far its pick attack is above its sustain.")
        }
        "leak_costs_db/timing" => {
            ("Cost", "dB", "Hit contrast recovered with this part alone in time.")
        }
        "leak_costs_db/clutter" => {
            ("Cost", "dB", "Hit contrast recovered with this part alone thinned out.")
        }
        "leak_costs_db/drive" => {
            ("Cost", "dB", "Hit contrast recovered with less gain on this part alone.")
        }
        _ => return None,
    };
    Some(Fact { label, unit, meaning })
}

/// What the mix was compared with, by its role in the JSON.
#[must_use]
pub const fn compare_caption(role: &str) -> &'static str {
    match role.as_bytes() {
        b"before" => "This mix against the one before the limiter, both at the same loudness.",
        b"reference" => "This mix against a reference, both at the same loudness.",
        _ => "This mix against another, both at the same loudness.",
    }
}

/// One number of the comparison, by its name in the JSON; `None` for what is shown elsewhere.
#[must_use]
pub fn compare_fact(name: &str) -> Option<Fact> {
    let (label, unit, meaning) = match name {
        "delay_ms" => ("Delay", "ms", "How much later this mix is; removed before comparing."),
        "gain_db" => ("Gain", "dB", "This mix over the other, where nothing is limited."),
        "contrast_difference_db" => {
            ("Contrast difference", "dB", "Hit contrast here minus that of the other.")
        }
        "band_difference_db" => {
            ("Band difference", "dB", "Low, mid and high here minus those of the other.")
        }
        "lost_db_median" => {
            ("Lost peak", "dB", "How much lower hits peak here at matched loudness, median.")
        }
        "reduction_db_median" => {
            ("Gain reduction", "dB", "What the limiter's own meter shows at the hits, median.")
        }
        "reduction_db_p90" => {
            ("90th percentile", "dB", "10 % of hits get this gain reduction or more.")
        }
        "reduction_db_max" => ("Largest reduction", "dB", "The same at the hit that loses most."),
        _ => return None,
    };
    Some(Fact { label, unit, meaning })
}

//! What the parts say about timing, and what to move where.

use brunt_engine::parts::timing::{
    AUDIBLE_DRUMS_MS, AUDIBLE_MS, Deviation, Double, Passage, TELLABLE_MS, TimingReading,
    audible_ms,
};
use brunt_engine::parts::{PartRole, PartTrack};
use brunt_engine::{Cost, LeakKind, State};

use super::advice::ADVICE_CHARS;
use super::evidence::{cost, how};
use super::line::{part_name, percent, short_name};
use super::need::need;
use super::number::{clock, seconds, signed, span, value};

/// What a part alone must cost the hits to be named for it, dB. Ours.
const WORTH_A_WORD_DB: f64 = 0.2;
/// Drift that is worth a word, ms a minute, and how often its 90 % range must go into it. Ours: a
/// song of three minutes ends as far off as the least spread that listeners hear on drums.
const WORTH_A_WORD_MS_A_MINUTE: f64 = 6.0;
/// See [`WORTH_A_WORD_MS_A_MINUTE`].
const DRIFT_SURE: f64 = 2.0;

/// One line of evidence: the part that strays most, or that costs most where it costs anything, in
/// ms and with its range, whether listeners hear that, and what all parts cost.
#[must_use]
pub fn timing_says(tracks: &[PartTrack], timing: &TimingReading) -> String {
    if timing.leak.state == State::Unknown {
        return beyond(tracks, timing).unwrap_or_else(|| need(&timing.leak.need));
    }
    // The part that the advice is about.
    let worst = match timing.leak.state {
        State::Unknown | State::Clear => loosest(timing),
        State::Watch | State::Leaking => dearest(timing),
    };
    let Some((part, deviation)) = worst else { return need(&timing.leak.need) };
    let reference = match timing.reference {
        // A kick and a snare that come as two parts.
        Some(_) if !timing.joined.is_empty() && tracks[part].role != PartRole::Drums => {
            "the drums".to_owned()
        }
        Some(reference) => part_name(&tracks[reference]),
        None => "the others".to_owned(),
    };
    let name = part_name(&tracks[part]);
    let spread = value(Some(deviation.spread_ms), "ms");
    let placed = format!("{}{}", placed(deviation, &reference), drifting(deviation));
    let heard = audible(tracks[part].role, deviation);
    let notes = beyond_hearing(tracks[part].role, deviation);
    let mut line = if timing.leak.state == State::Clear {
        let costs = little(timing);
        let heard = match heard {
            // What is not heard and costs nothing needs no word.
            Heard::Less => String::new(),
            heard => format!(", {}", heard.says()),
        };
        format!("Loosest: {name}, {placed}, spread {spread}{heard}. {costs}")
    } else {
        let (low, high) = deviation.spread_range_ms;
        let range = span(low, high, "ms");
        let lost = match (timing.leak.attack, timing.leak.cost) {
            (Some(attack), hits) => format!(
                "Shared attacks lose {}, the mix's hits {}",
                cost(Some(attack)),
                value(hits.map(|hits| hits.db), "dB")
            ),
            (None, hits) => format!("All parts together cost the hits {}", cost(hits)),
        };
        format!(
            "{name}: {placed}, spread {spread} ({range}){notes}. {lost}, {}",
            how(timing.leak.measured)
        )
    };
    line.push('.');
    if let Some(beyond) = beyond(tracks, timing) {
        line.push(' ');
        line.push_str(&beyond);
    }
    line
}

/// That the costs are small, each by whose it is: the one that is shown next to the line may be either.
fn little(timing: &TimingReading) -> String {
    let db = |cost: Option<Cost>| value(cost.map(|cost| cost.db), "dB");
    let hits = format!("hits {}", db(timing.leak.cost));
    match timing.leak.attack {
        Some(attack) => format!("Negligible cost: shared attacks {}, {hits}", db(Some(attack))),
        None => format!("Negligible cost: {hits}"),
    }
}

/// How many of a part's notes are further off than listeners hear, and what that is; nothing where
/// none is.
fn beyond_hearing(role: PartRole, deviation: &Deviation) -> String {
    if deviation.audible_share < 0.005 {
        return String::new();
    }
    format!(
        ", {} of its notes more than {} off, which listeners hear",
        percent(deviation.audible_share),
        value(Some(audible_ms(role)), "ms")
    )
}

/// A part that lies so far off as a whole that it does not count as loose: by how much.
fn beyond(tracks: &[PartTrack], timing: &TimingReading) -> Option<String> {
    let (part, ms) = furthest(timing)?;
    let (name, ms) = (part_name(&tracks[part]), value(Some(ms), "ms"));
    Some(format!("{name} is {ms} late all the way through: latency, or its own rhythm."))
}

/// The part that is latest as a whole, beyond what counts as loose.
fn furthest(timing: &TimingReading) -> Option<(usize, f64)> {
    let beyond = timing.beyond_ms.iter().enumerate();
    beyond.filter_map(|(part, ms)| ms.map(|ms| (part, ms))).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// What to try first, one line of at most [`ADVICE_CHARS`]: which part, how many ms, which way,
/// where.
#[must_use]
pub fn timing_advice(tracks: &[PartTrack], timing: &TimingReading) -> String {
    if !timing.leak.state.loses()
        && let Some((part, ms)) = furthest(timing)
    {
        let ms = value(Some(ms), "ms");
        let part = short_name(&tracks[part]);
        return fit(format!("Check {part} for {ms} of latency: nudge it and listen."));
    }
    if timing.leak.state == State::Unknown {
        return "Play a longer passage in which two parts play together.".to_owned();
    }
    if timing.leak.state == State::Clear {
        let (attack, hits) = (timing.leak.attack, timing.leak.cost);
        let by_attack =
            LeakKind::Timing.goes_by_attack(attack.map(|cost| cost.db), hits.map(|cost| cost.db));
        let (whose, back) = if by_attack { ("shared attacks", attack) } else { ("the hits", hits) };
        let back = value(back.map(|cost| cost.db), "dB");
        let plain = loosest(timing)
            .is_some_and(|(part, d)| audible(tracks[part].role, d) == Heard::Plainly);
        let first = if plain { "Judge by ear" } else { "Leave it" };
        return fit(format!("{first}: tightening would give {whose} {back}."));
    }
    let Some((dearest, deviation)) = dearest(timing) else {
        return "Tighten the loosest part first.".to_owned();
    };
    let part = short_name(&tracks[dearest]);
    if deviation.offset_ms.abs() > deviation.spread_ms {
        let way = if deviation.offset_ms > 0.0 { "earlier" } else { "later" };
        let ms = value(Some(deviation.offset_ms.abs()), "ms");
        let back = timing.part_costs_db.get(dearest).copied().flatten();
        let back = value(back.map(|db| db.max(0.0)), "dB");
        return fit(format!("Move {part} {ms} {way}: hits gain {back}."));
    }
    match deviation.passages.first() {
        Some(passage) => {
            let first = format!("Tighten {part} at {} first", place(passage));
            let whole = format!("{first}; loosest there.");
            // A name and a place have room in any case, the reason not always.
            if whole.chars().count() <= ADVICE_CHARS { whole } else { format!("{first}.") }
        }
        None => fit(format!("Tighten {part} note by note: spread exceeds offset.")),
    }
}

/// One line on two takes of a riff.
#[must_use]
pub fn double_says(tracks: &[PartTrack], double: &Double) -> String {
    let pair = if double.first == double.second {
        format!("Right of {} against left", part_name(&tracks[double.first]))
    } else {
        format!(
            "{} against {}",
            part_name(&tracks[double.second]),
            part_name(&tracks[double.first])
        )
    };
    let mut line = format!(
        "{pair}: {}, spread {}",
        offset(&double.deviation),
        value(Some(double.deviation.spread_ms), "ms")
    );
    if let Some(both) = double.summed.both {
        line.push_str(&format!("; shared attacks lose {}", cost(Some(both))));
    }
    line.push('.');
    line
}

/// A passage that strays, in one line: where, and which way.
#[must_use]
pub fn passage_says(passage: &Passage) -> String {
    let bars = passage.bars.map(|bars| format!("{}, ", numbers(bars))).unwrap_or_default();
    format!(
        "Loosest at {bars}{} to {}: offset {}, spread {}.",
        clock(passage.from_s),
        clock(passage.to_s),
        signed(Some(passage.offset_ms), "ms"),
        value(Some(passage.spread_ms), "ms"),
    )
}

/// Where a passage starts: its bars and the time, or the time to the millisecond where no bars are
/// known.
fn place(passage: &Passage) -> String {
    match passage.bars {
        Some(bars) => format!("{}, {}", numbers(bars), clock(passage.from_s)),
        None => seconds(passage.from_s),
    }
}

/// `bars 17 to 18`, or `bar 17`.
fn numbers((first, last): (i64, i64)) -> String {
    if first == last { format!("bar {first}") } else { format!("bars {first} to {last}") }
}

fn offset(deviation: &Deviation) -> String {
    if deviation.offset_ms.abs() <= TELLABLE_MS {
        return "in time".to_owned();
    }
    format!("{} {}", value(Some(deviation.offset_ms.abs()), "ms"), way(deviation.offset_ms))
}

/// Where a part is in the median against the part that the others are read against.
fn placed(deviation: &Deviation, reference: &str) -> String {
    let ms = value(Some(deviation.offset_ms.abs()), "ms");
    match deviation.offset_ms {
        offset if offset.abs() <= TELLABLE_MS => format!("in time with {reference}"),
        offset if offset > 0.0 => format!("{ms} behind {reference}"),
        _ => format!("{ms} ahead of {reference}"),
    }
}

fn way(late_ms: f64) -> &'static str {
    if late_ms > 0.0 { "late" } else { "early" }
}

/// That the offset moves over the song, where that is certain and adds up to what can be told.
fn drifting(deviation: &Deviation) -> String {
    match deviation.drift_ms_a_minute {
        Some((drift, range))
            if drift.abs() > DRIFT_SURE * range && drift.abs() >= WORTH_A_WORD_MS_A_MINUTE =>
        {
            format!(", {} a minute", signed(Some(drift), "ms"))
        }
        _ => String::new(),
    }
}

/// Whether listeners tell such a spread or offset, from a study of grooves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Heard {
    Less,
    AtTheLimit,
    Plainly,
}

impl Heard {
    const fn says(self) -> &'static str {
        match self {
            Self::Less => "too little to sound loose",
            Self::AtTheLimit => "at the limit of hearing",
            Self::Plainly => "clearly audible",
        }
    }
}

fn audible(role: PartRole, deviation: &Deviation) -> Heard {
    let (least, most) = if role == PartRole::Drums { AUDIBLE_DRUMS_MS } else { AUDIBLE_MS };
    let off = deviation.spread_ms.max(deviation.offset_ms.abs());
    if off < least {
        Heard::Less
    } else if off < most {
        Heard::AtTheLimit
    } else {
        Heard::Plainly
    }
}

/// The part with the largest spread or offset.
fn loosest(timing: &TimingReading) -> Option<(usize, &Deviation)> {
    let off = |d: &Deviation| d.spread_ms.max(d.offset_ms.abs());
    known(timing).max_by(|a, b| off(a.1).total_cmp(&off(b.1)))
}

/// The part that costs the hits most; where none costs them anything, the loosest.
fn dearest(timing: &TimingReading) -> Option<(usize, &Deviation)> {
    let db = |part: usize| timing.part_costs_db[part].unwrap_or(0.0);
    let most = known(timing).max_by(|a, b| db(a.0).total_cmp(&db(b.0)));
    most.filter(|(part, _)| db(*part) >= WORTH_A_WORD_DB).or_else(|| loosest(timing))
}

fn known(timing: &TimingReading) -> impl Iterator<Item = (usize, &Deviation)> {
    timing.parts.iter().enumerate().filter_map(|(part, d)| d.as_ref().map(|d| (part, d)))
}

/// A line that fits: the reason behind the colon goes where there is no room.
fn fit(line: String) -> String {
    if line.chars().count() <= ADVICE_CHARS {
        return line;
    }
    let head = line.split(':').next().unwrap_or_default();
    format!("{head}.")
}

#[cfg(test)]
mod tests {
    use brunt_engine::PartLeak;

    use super::*;

    /// Loose players under loud drums cost the hits little: that is said with its figure, not as
    /// nothing.
    #[test]
    fn what_tightening_would_bring_is_said_where_it_is_little() {
        let cost = Some(Cost { db: 0.7, low_db: 0.5, high_db: 0.9 });
        let leak = PartLeak { state: State::Clear, cost, ..PartLeak::default() };
        let timing = TimingReading { leak, ..TimingReading::default() };
        let advice = timing_advice(&[], &timing);
        assert_eq!(advice, "Leave it: tightening would give the hits 0.7 dB.");
        assert!(advice.chars().count() <= ADVICE_CHARS);
    }

    fn read(deviation: Deviation, state: State, db: f64) -> (Vec<PartTrack>, TimingReading) {
        let guitar = PartTrack {
            name: "gtr.wav".to_owned(),
            role: PartRole::Guitars,
            ..PartTrack::default()
        };
        let drums = PartTrack { name: "kit.wav".to_owned(), ..PartTrack::default() };
        let cost = Some(Cost { db, low_db: db - 0.1, high_db: db + 0.1 });
        let timing = TimingReading {
            leak: PartLeak { state, cost, ..PartLeak::default() },
            reference: Some(0),
            parts: vec![None, Some(deviation)],
            part_costs_db: vec![None, Some(db)],
            ..TimingReading::default()
        };
        (vec![drums, guitar], timing)
    }

    /// What listeners hear is said even where it costs the hits nothing, and a certain drift with
    /// the offset.
    #[test]
    fn what_is_heard_and_what_drifts_is_said_at_any_cost() {
        let loose = Deviation {
            offset_ms: -8.5,
            spread_ms: 36.0,
            spread_range_ms: (32.0, 40.0),
            ..Deviation::default()
        };
        let (tracks, timing) = read(loose, State::Clear, 0.4);
        assert_eq!(
            timing_says(&tracks, &timing),
            "Loosest: gtr, 8.5 ms ahead of kit, spread 36.0 ms, clearly audible. Negligible cost: \
             hits 0.4 dB."
        );
        let advice = timing_advice(&tracks, &timing);
        assert_eq!(advice, "Judge by ear: tightening would give the hits 0.4 dB.");
        // Whichever is shown next to the line, by whose it is.
        for (attack_db, end) in [(0.1, "the hits 0.4 dB."), (0.6, "shared attacks 0.6 dB.")] {
            let mut timing = timing.clone();
            timing.leak.attack = Some(Cost { db: attack_db, low_db: 0.0, high_db: 1.0 });
            let says = timing_says(&tracks, &timing);
            let costs = format!("Negligible cost: shared attacks {attack_db:.1} dB, hits 0.4 dB.");
            assert!(says.ends_with(&costs), "{says}");
            let advice = timing_advice(&tracks, &timing);
            assert_eq!(advice, format!("Judge by ear: tightening would give {end}"));
        }
        for (drift, range, told) in [(29.5, 4.0, true), (29.5, 20.0, false), (3.0, 0.5, false)] {
            let drifts = Deviation {
                offset_ms: 11.5,
                spread_ms: 6.8,
                spread_range_ms: (6.0, 7.5),
                drift_ms_a_minute: Some((drift, range)),
                ..Deviation::default()
            };
            let (tracks, timing) = read(drifts, State::Watch, 1.2);
            let says = timing_says(&tracks, &timing);
            assert_eq!(
                says.contains("11.5 ms behind kit, +29.5 ms a minute, spread"),
                told,
                "{says}"
            );
            assert!(says.contains(". All parts together cost the hits 1.2 dB ("), "{says}");
            let advice = timing_advice(&tracks, &timing);
            assert_eq!(advice, "Move gtr 11.5 ms earlier: hits gain 1.2 dB.");
        }
    }

    /// Drums that come as several parts are the drums to the others, and one of them to another.
    #[test]
    fn several_parts_of_drums_are_the_drums() {
        let late = Deviation { offset_ms: 8.0, spread_ms: 4.0, ..Deviation::default() };
        let (mut tracks, mut timing) = read(late, State::Clear, 0.1);
        let says = |tracks: &[PartTrack], timing: &TimingReading| timing_says(tracks, timing);
        assert!(says(&tracks, &timing).starts_with("Loosest: gtr, 8.0 ms behind kit, "));
        timing.joined = vec![1];
        let of_all = says(&tracks, &timing);
        assert!(of_all.starts_with("Loosest: gtr, 8.0 ms behind the drums, "), "{of_all}");
        tracks[1].role = PartRole::Drums;
        assert!(says(&tracks, &timing).starts_with("Loosest: gtr, 8.0 ms behind kit, "));
    }

    /// A part that is late as a whole by more than any player is no looseness, and named all the
    /// same.
    #[test]
    fn a_part_beyond_all_looseness_is_named() {
        let (tracks, mut timing) = read(Deviation::default(), State::Clear, 0.0);
        timing.beyond_ms = vec![None, Some(60.0)];
        let says = timing_says(&tracks, &timing);
        assert!(
            says.ends_with(" gtr is 60.0 ms late all the way through: latency, or its own rhythm."),
            "{says}"
        );
        let advice = timing_advice(&tracks, &timing);
        assert_eq!(advice, "Check gtr for 60.0 ms of latency: nudge it and listen.");
        assert!(advice.chars().count() <= ADVICE_CHARS);
        timing.parts = vec![None, None];
        timing.leak.state = State::Unknown;
        assert!(timing_says(&tracks, &timing).starts_with("gtr is 60.0 ms late"));
    }

    /// The place is given by bars and time, and by the time alone where no bars are known; the longest
    /// name and place have room.
    #[test]
    fn a_worst_passage_is_given_by_its_bars() {
        let cost = Some(Cost { db: 2.5, low_db: 2.0, high_db: 3.0 });
        let leak = PartLeak { state: State::Leaking, cost, ..PartLeak::default() };
        let timing = |bars, from_s| {
            let to_s = from_s + 4.0;
            let passage =
                Passage { from_s, to_s, offset_ms: 9.0, spread_ms: 31.0, shared: 12, bars };
            let deviation =
                Deviation { spread_ms: 30.0, passages: vec![passage], ..Deviation::default() };
            let parts = vec![None, Some(deviation)];
            let part_costs_db = vec![None, Some(2.5)];
            TimingReading { leak, parts, part_costs_db, ..TimingReading::default() }
        };
        let tracks = |name: &str| {
            let bass = PartTrack { name: name.to_owned(), ..PartTrack::default() };
            [PartTrack::default(), bass]
        };
        let advice = |name, bars, from_s| timing_advice(&tracks(name), &timing(bars, from_s));
        for (bars, told) in [
            (Some((17, 18)), "Tighten Bass at bars 17 to 18, 0:32 first; loosest there."),
            (Some((17, 17)), "Tighten Bass at bar 17, 0:32 first; loosest there."),
            (None, "Tighten Bass at 32.250 s first; loosest there."),
        ] {
            assert_eq!(advice("Bass", bars, 32.25), told);
        }
        let long = advice("Rhythm guitar left, double", Some((1017, 1018)), 3725.0);
        assert_eq!(long, "Tighten Rhythm guitar lef\u{2026} at bars 1017 to 1018, 1:02:05 first.");
        assert!(long.chars().count() <= ADVICE_CHARS);
        let long = advice("Rhythm guitar left, double", None, 725.0);
        assert!(long.ends_with("at 12:05.000 first; loosest there."), "{long}");
        let says = |bars| {
            let timing = timing(bars, 32.25);
            passage_says(&timing.parts[1].as_ref().expect("read").passages[0])
        };
        assert_eq!(
            says(Some((17, 18))),
            "Loosest at bars 17 to 18, 0:32 to 0:36: offset +9.0 ms, spread 31.0 ms."
        );
        assert_eq!(says(None), "Loosest at 0:32 to 0:36: offset +9.0 ms, spread 31.0 ms.");
    }
}

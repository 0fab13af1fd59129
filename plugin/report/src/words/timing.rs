//! What the parts say about timing, and what to move where.

use brunt_engine::State;
use brunt_engine::parts::timing::{
    AUDIBLE_DRUMS_MS, AUDIBLE_MS, Deviation, Double, Passage, TELLABLE_MS, TimingReading,
};
use brunt_engine::parts::{PartRole, PartTrack};

use super::advice::ADVICE_CHARS;
use super::evidence::{cost, little, need};
use super::line::{part_name, short_name};
use super::number::{clock, seconds, signed, span, value};

/// Loss of the shared attacks that is worth a word, dB. Ours: half a just noticeable difference.
const WORTH_A_WORD_DB: f64 = 0.5;

/// One line of evidence: the part that strays most, or that costs most where it costs anything, in
/// ms and with its range, whether listeners hear that, and what all parts cost.
#[must_use]
pub fn timing_says(tracks: &[PartTrack], timing: &TimingReading) -> String {
    if timing.leak.state == State::Unknown {
        return need(&timing.leak.need);
    }
    // The part that the advice is about.
    let told = match timing.leak.state {
        State::Unknown | State::Clear => loosest(timing),
        State::Watch | State::Leaking => dearest(timing),
    };
    let Some((part, deviation)) = told else { return need(&timing.leak.need) };
    let reference =
        timing.reference.map_or_else(|| "the others".to_owned(), |n| part_name(&tracks[n]));
    let name = part_name(&tracks[part]);
    let spread = value(Some(deviation.spread_ms), "ms");
    let offset = offset(deviation);
    let mut line = if timing.leak.state == State::Clear {
        let costs = little(timing.leak.cost);
        format!("{name} strays most against {reference}: {offset}, spread {spread}; {costs}")
    } else {
        let (low, high) = deviation.spread_range_ms;
        let range = span(low, high, "ms");
        let (heard, costs) = audible(tracks[part].role, deviation);
        let cost = cost(timing.leak.cost);
        format!(
            "{name} against {reference}: {offset}, spread {spread} ({range}){heard}; {costs}, {cost}"
        )
    };
    if let Some(summed) = timing.summed.both
        && summed.db >= WORTH_A_WORD_DB
    {
        line.push_str(&format!(
            "; attacks that bass, guitars and voices share lose {}",
            cost(Some(summed))
        ));
    }
    line.push('.');
    line
}

/// What to try first, one line of at most [`ADVICE_CHARS`]: which part, how many ms, which way,
/// where.
#[must_use]
pub fn timing_advice(tracks: &[PartTrack], timing: &TimingReading) -> String {
    if timing.leak.state == State::Unknown {
        return "Play a longer passage, with two parts or more.".to_owned();
    }
    if timing.leak.state == State::Clear {
        let back = value(timing.leak.cost.map(|cost| cost.db), "dB");
        return fit(format!("Leave it: moving notes would win back {back}."));
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
        return fit(format!("Move {part} {ms} {way}: {back} of contrast back."));
    }
    match deviation.passages.first() {
        Some(passage) => {
            let first = format!("Tighten {part} at {} first", place(passage));
            let whole = format!("{first}; loosest there.");
            // A name and a place have room in any case, the reason not always.
            if whole.chars().count() <= ADVICE_CHARS { whole } else { format!("{first}.") }
        }
        None => fit(format!("Tighten {part}: its spread is more than its offset.")),
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
        "Strays most from {bars}{} to {}: offset {}, spread {}.",
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

/// `bar 17 to 18`, or `bar 17`.
fn numbers((first, last): (i64, i64)) -> String {
    if first == last { format!("bar {first}") } else { format!("bar {first} to {last}") }
}

fn offset(deviation: &Deviation) -> String {
    if deviation.offset_ms.abs() <= TELLABLE_MS {
        return "in place".to_owned();
    }
    let way = if deviation.offset_ms > 0.0 { "late" } else { "early" };
    format!("{} {way}", value(Some(deviation.offset_ms.abs()), "ms"))
}

/// Whether listeners tell such a spread, from a study of grooves, and how the cost follows on that.
fn audible(role: PartRole, deviation: &Deviation) -> (&'static str, &'static str) {
    let (least, most) = if role == PartRole::Drums { AUDIBLE_DRUMS_MS } else { AUDIBLE_MS };
    let off = deviation.spread_ms.max(deviation.offset_ms.abs());
    if off < least {
        (", less than listeners hear as loose", "yet all parts together cost the hits")
    } else if off < most {
        (", at the limit of what listeners hear", "all parts together cost the hits")
    } else {
        (", plain to hear", "all parts together cost the hits")
    }
}

/// The part with the largest spread or offset.
fn loosest(timing: &TimingReading) -> Option<(usize, &Deviation)> {
    let off = |d: &Deviation| d.spread_ms.max(d.offset_ms.abs());
    known(timing).max_by(|a, b| off(a.1).total_cmp(&off(b.1)))
}

/// The part that costs most.
fn dearest(timing: &TimingReading) -> Option<(usize, &Deviation)> {
    let db = |part: usize| timing.part_costs_db[part].unwrap_or(0.0);
    known(timing).max_by(|a, b| db(a.0).total_cmp(&db(b.0)))
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
    use brunt_engine::{Cost, PartLeak};

    use super::*;

    /// Loose players under loud drums cost the hits little: that is said with its figure, not as
    /// nothing.
    #[test]
    fn what_moving_notes_would_bring_is_told_where_it_is_little() {
        let cost = Some(Cost { db: 0.7, low_db: 0.5, high_db: 0.9 });
        let leak = PartLeak { state: State::Clear, cost, ..PartLeak::default() };
        let timing = TimingReading { leak, ..TimingReading::default() };
        let advice = timing_advice(&[], &timing);
        assert_eq!(advice, "Leave it: moving notes would win back 0.7 dB.");
        assert!(advice.chars().count() <= ADVICE_CHARS);
    }
    /// The place is told by bars and time, and by the time alone where no bars are known; the longest
    /// name and place have room.
    #[test]
    fn a_worst_passage_is_told_by_its_bars() {
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
            (Some((17, 18)), "Tighten Bass at bar 17 to 18, 0:32 first; loosest there."),
            (Some((17, 17)), "Tighten Bass at bar 17, 0:32 first; loosest there."),
            (None, "Tighten Bass at 32.250 s first; loosest there."),
        ] {
            assert_eq!(advice("Bass", bars, 32.25), told);
        }
        let long = advice("Rhythm guitar left, double", Some((1017, 1018)), 3725.0);
        assert_eq!(long, "Tighten Rhythm guitar lef\u{2026} at bar 1017 to 1018, 1:02:05 first.");
        assert!(long.chars().count() <= ADVICE_CHARS);
        let long = advice("Rhythm guitar left, double", None, 725.0);
        assert!(long.ends_with("at 12:05.000 first; loosest there."), "{long}");
        let says = |bars| {
            let timing = timing(bars, 32.25);
            passage_says(&timing.parts[1].as_ref().expect("read").passages[0])
        };
        assert_eq!(
            says(Some((17, 18))),
            "Strays most from bar 17 to 18, 0:32 to 0:36: offset +9.0 ms, spread 31.0 ms."
        );
        assert_eq!(says(None), "Strays most from 0:32 to 0:36: offset +9.0 ms, spread 31.0 ms.");
    }
}

//! Windows of a mix with its parts heard.

use super::*;

/// The clean mix with parts that are heard: a bass that is late, guitars that are loose.
pub fn linked() -> Display {
    let mut display = clean();
    let part = |name: &str, role, ms: Option<(f64, f64)>, costs: [Option<f64>; 3]| LinkedPart {
        name: name.to_owned(),
        role,
        suggested: None,
        status: PartStatus::Heard,
        reference: ms.is_none(),
        offset_ms: ms.map(|ms| ms.0),
        spread_ms: ms.map(|ms| ms.1),
        costs: PartCosts { timing_db: costs[0], clutter_db: costs[1], drive_db: costs[2] },
        ..LinkedPart::default()
    };
    let silent = LinkedPart {
        name: "Tambourine".to_owned(),
        status: PartStatus::Silent,
        ..LinkedPart::default()
    };
    let mut parts = vec![
        part("Kit bus", PartRole::Drums, None, [None; 3]),
        part("Bass DI", PartRole::Bass, Some((12.3, 4.1)), [Some(1.4), Some(0.2), None]),
        part("Gtr L", PartRole::Guitars, Some((-3.4, 11.8)), [Some(2.6), Some(0.4), Some(0.6)]),
        part("Gtr R", PartRole::Guitars, Some((2.2, 9.7)), [Some(0.9), Some(0.4), Some(0.5)]),
        part("", PartRole::Vocals, Some((18.5, 27.0)), [Some(0.1), None, None]),
        part(
            "Strings and pads, all of them, from the second refrain on",
            PartRole::Other,
            Some((104.9, 31.2)),
            [Some(0.0), Some(1.7), None],
        ),
        silent,
    ];
    let passage = |from_s: f64, offset_ms, bars| Passage {
        from_s,
        to_s: from_s + 4.0,
        offset_ms,
        spread_ms: 21.4,
        shared: 14,
        bars,
    };
    parts[2].passages =
        vec![passage(41.25, -9.2, Some((21, 22))), passage(62.0, 4.1, Some((31, 31)))];
    parts[3].passages = vec![passage(20.5, 7.7, None)];
    let leak = |state, db: f64| PartLeak {
        state,
        cost: Some(Cost { db, low_db: 0.7 * db, high_db: 1.3 * db }),
        ..PartLeak::default()
    };
    let said = |says: &str, advice: &str| Said { says: says.to_owned(), advice: advice.to_owned() };
    let mut reading = LinkedReading::default();
    reading.passage_s = Some((12.0, 75.5));
    reading.leaks = [leak(State::Leaking, 3.2), leak(State::Watch, 1.9), leak(State::Clear, 0.6)];
    reading.said = [
        said(
            "Gtr L against Kit bus: 3.4 ms early, spread 11.8 ms (10.2 to 13.6 ms), less than \
             listeners can name; costs the hits, 3.2 dB (2.2 to 4.2 dB).",
            "Tighten Gtr L at bar 21 to 22, 0:41 first; loosest there.",
        ),
        said("Strings and pads hold through 62 % of the hits.", "Thin out the strings first."),
        said("Guitars: next to no cost, 0.6 dB (0.4 to 0.8 dB).", "Leave the gain as it is."),
    ];
    let linked = Linked { others: 7, parts, reading: Some(reading), ..Linked::default() };
    linked.fill(&mut display.readings.leaks);
    display.linked = Arc::new(linked);
    display
}

/// The same with a limiter on the drum bus, which the mix does not show.
pub fn linked_limited() -> Display {
    let mut display = linked();
    let mut linked = (*display.linked).clone();
    linked.parts[0].ceiling = Some(PartCeilingReport::from(&ceiling().readings.leaks.ceiling));
    display.linked = Arc::new(linked);
    display
}

/// What the window of the drums' own instance shows.
pub fn drums() -> Display {
    let mut display = ceiling();
    let unknown = PartLeak { need: Need::Mix, ..PartLeak::default() };
    let leaks = &mut display.readings.leaks;
    (leaks.timing, leaks.clutter, leaks.drive) = (unknown, unknown, unknown);
    leaks.mids = Mids { need: Need::Mix, ..Mids::default() };
    display.track_name = "Kit bus".to_owned();
    display
}

/// The same with so many parts that they have to be scrolled.
pub fn many_linked() -> Display {
    let mut display = linked();
    let mut many = (*display.linked).clone();
    while many.parts.len() < 70 {
        let next = many.parts[many.parts.len() % 6 + 1].clone();
        many.parts.push(LinkedPart { name: format!("{} {}", next.name, many.parts.len()), ..next });
    }
    display.linked = Arc::new(many);
    display
}

/// A part on a track of that name, of which something else was heard than its role may say.
pub fn sounding(track: &str, role: Option<PartRole>) -> Display {
    let own = role.map(|role| RoleSuggestion {
        role,
        log_odds: 5.0,
        shares: [0.68, 0.27, 0.05],
        fall_db: Some(17.8),
        change_db: 12.0,
    });
    let mut display = empty();
    display.track_name = track.to_owned();
    display.linked = Arc::new(Linked { own, ..Linked::default() });
    display
}

/// Parts of which one sounds like another role than it was given.
pub fn doubted() -> Display {
    let mut display = linked();
    let mut linked = (*display.linked).clone();
    for part in &mut linked.parts {
        part.suggested = Some(part.role);
    }
    linked.parts[3].suggested = Some(PartRole::Bass);
    linked.parts[6].suggested = Some(PartRole::Drums);
    display.linked = Arc::new(linked);
    display
}

/// Instances are there; how they stand is up to the caller.
pub fn linked_as(others: usize, status: &[PartStatus]) -> Display {
    let mut display = unknown();
    let part = |(k, status): (usize, &PartStatus)| LinkedPart {
        name: format!("Track {}", k + 1),
        role: PartRole::ALL[k % 5],
        status: *status,
        ..LinkedPart::default()
    };
    let parts = status.iter().enumerate().map(part).collect();
    display.linked = Arc::new(Linked { others, parts, ..Linked::default() });
    display
}

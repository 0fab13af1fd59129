//! What the parts say about clutter, and which to thin out.

use brunt_engine::State;
use brunt_engine::parts::PartTrack;
use brunt_engine::parts::clutter::{Change, Clutter, ClutterReason, ClutterRow};
use brunt_engine::parts::timing::TimingReading;

use super::advice::ADVICE_CHARS;
use super::evidence::{cost, how, little};
use super::line::{fit, part_name, percent, short_name};
use super::need::parts_need;
use super::number::{count, span, value};

/// Share of hits held through from which it is worth a word.
const WORTH_A_WORD: f64 = 0.25;
/// Most parts that are named after the first, and what each costs at least, dB. Ours.
const OTHERS: usize = 3;
const OTHERS_DB: f64 = 0.15;

/// One line of evidence: what the state goes by, cost or rhythms, which part fills the most, and what
/// all clutter costs.
#[must_use]
pub fn clutter_says(tracks: &[PartTrack], clutter: &Clutter) -> String {
    if clutter.leak.state == State::Unknown {
        return parts_need(&clutter.leak.need);
    }
    let how = how(clutter.leak.measured);
    match (clutter.reason, clutter.worst) {
        (Some(ClutterReason::Rhythms), Some(part)) => {
            let names: Vec<String> = clutter
                .own_rhythms
                .iter()
                .flatten()
                .map(|&part| part_name(&tracks[part]))
                .collect();
            let rhythms = count(clutter.own_rhythms.len() as u64, "rhythm");
            let share = clutter.rows[part].lock.map_or(String::new(), |lock| {
                format!("; {} of its notes fall on them", percent(lock.notes))
            });
            format!(
                "{rhythms} apart from the drums': {}. {} misses most main hits{share}. That sounds \
                 cluttered whatever it costs: {}, {how}.",
                names.join(", "),
                part_name(&tracks[part]),
                cost(clutter.leak.cost)
            )
        }
        (Some(ClutterReason::Cost), Some(part)) => format!(
            "{} {}. All clutter together costs {}, {how}.{}",
            part_name(&tracks[part]),
            filling(clutter, part),
            cost(clutter.leak.cost),
            others(tracks, clutter, part)
        ),
        _ => {
            format!("{}; {}, {how}.", uncluttered(tracks, clutter), little(clutter.leak.cost))
        }
    }
}

/// The parts that cost most after `first`, each by itself; nothing where none is worth a word.
fn others(tracks: &[PartTrack], clutter: &Clutter, first: usize) -> String {
    let known = clutter.rows.iter().enumerate().filter(|(part, _)| *part != first);
    let mut known: Vec<(usize, f64)> =
        known.filter_map(|(part, row)| Some((part, row.cost?.db))).collect();
    known.retain(|(_, db)| *db >= OTHERS_DB);
    known.sort_by(|a, b| b.1.total_cmp(&a.1));
    let named: Vec<String> = known
        .into_iter()
        .take(OTHERS)
        .map(|(part, db)| format!("{} {}", part_name(&tracks[part]), value(Some(db), "dB")))
        .collect();
    if named.is_empty() { String::new() } else { format!(" Next: {}.", named.join(", ")) }
}

/// Why there is no clutter: the part that holds most is named, since its level is what keeps it clear.
fn uncluttered(tracks: &[PartTrack], clutter: &Clutter) -> String {
    let holds = |row: &ClutterRow| row.held_share.filter(|&held| held >= WORTH_A_WORD);
    let layers = clutter.changes.iter().filter(|(_, change)| *change == Change::Mute);
    let most = layers
        .filter_map(|&(part, _)| holds(&clutter.rows[part]).map(|held| (part, held)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match most {
        Some((part, held)) => format!(
            "{} sustains through {} of the main hits at a level that leaves them room",
            part_name(&tracks[part]),
            percent(held)
        ),
        None => "Parts play with the drums or leave room between hits".to_owned(),
    }
}

/// How a part fills the space between hits.
fn filling(clutter: &Clutter, part: usize) -> String {
    let row = &clutter.rows[part];
    let layer = clutter.changes.contains(&(part, Change::Mute));
    match (layer, row.held_share, row.lock) {
        (true, Some(held), _) => {
            format!("sustains through {} of the main hits", percent(held))
        }
        (false, _, Some(lock)) => {
            format!("has only {} of its notes on the main hits", percent(lock.notes))
        }
        _ => "fills the space between hits most".to_owned(),
    }
}

/// What to try first, in one line: which part to thin out and the contrast it would give back. One
/// that lies late as a whole strikes where no drum does for that reason, and is to be moved first.
#[must_use]
pub fn clutter_advice(
    tracks: &[PartTrack],
    clutter: &Clutter,
    timing: &TimingReading,
) -> Option<String> {
    if !clutter.leak.state.loses() {
        return None;
    }
    let part = clutter.worst?;
    if let Some(ms) = timing.beyond_ms.get(part).copied().flatten() {
        let (name, ms) = (short_name(&tracks[part]), value(Some(ms), "ms"));
        return Some(fit(format!("First move {name}: it is {ms} late all through.")));
    }
    let name = short_name(&tracks[part]);
    if clutter.reason == Some(ClutterReason::Rhythms) {
        return Some(fit(format!("Play {name} with the drums, or drop it there.")));
    }
    let back = clutter.rows[part].cost?;
    let first = match clutter.changes.iter().find(|change| change.0 == part) {
        Some((_, Change::Mute)) => format!("Turn down or mute {name}"),
        _ => format!("Play {name} with the drums"),
    };
    let recovers = format!("{first}: recovers {}", value(Some(back.db), "dB"));
    let whole = format!("{recovers} ({}).", span(back.low_db, back.high_db, "dB"));
    // The range has room after most names.
    Some(if whole.chars().count() <= ADVICE_CHARS { whole } else { fit(format!("{recovers}.")) })
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::clutter::Lock;
    use brunt_engine::{Cost, PartLeak};

    use super::*;

    /// A drum track and a layer, or a part with a rhythm of its own.
    fn cluttered(notes: f64, held: f64) -> (Vec<PartTrack>, Clutter) {
        let track = |name: &str| PartTrack { name: name.to_owned(), ..PartTrack::default() };
        let cost = Some(Cost { db: 1.3, low_db: 0.8, high_db: 1.9 });
        let row = ClutterRow {
            shared_onset_ratio: Some(0.21),
            held_share: Some(held),
            lock: Some(Lock { notes, hits: 0.1 }),
            cost,
            ..ClutterRow::default()
        };
        let change = if held > 0.5 { Change::Mute } else { Change::Retime(Vec::new()) };
        let clutter = Clutter {
            leak: PartLeak { state: State::Watch, cost, ..PartLeak::default() },
            rows: vec![ClutterRow::default(), row],
            layers_at_hits: Some(3.9),
            worst: Some(1),
            reason: Some(ClutterReason::Cost),
            changes: vec![(1, change)],
            own_rhythms: vec![vec![1]],
            ..Clutter::default()
        };
        (vec![track("stems/drums.wav"), track("stems/rhythm guitar 2.wav")], clutter)
    }

    /// A pad that sustains through the hits and costs little is named with its level as the reason.
    #[test]
    fn a_layer_that_holds_is_named_where_it_is_no_clutter() {
        let (tracks, mut clutter) = cluttered(1.0, 0.91);
        (clutter.leak.state, clutter.reason) = (State::Clear, None);
        clutter.leak.cost = Some(Cost { db: 0.2, low_db: 0.1, high_db: 0.3 });
        assert_eq!(
            clutter_says(&tracks, &clutter),
            "rhythm guitar 2 sustains through 91 % of the main hits at a level that leaves them room; \
             negligible cost, 0.2 dB, estimated."
        );
        clutter.changes.clear();
        let says = clutter_says(&tracks, &clutter);
        assert!(says.starts_with("Parts play with the drums or leave room"), "{says}");
    }

    #[test]
    fn the_part_to_see_to_is_named_with_what_comes_back() {
        let (tracks, clutter) = cluttered(0.08, 0.0);
        assert_eq!(
            clutter_advice(&tracks, &clutter, &TimingReading::default()).as_deref(),
            Some("Play rhythm guitar 2 with the drums: recovers 1.3 dB.")
        );
        assert_eq!(
            clutter_says(&tracks, &clutter),
            "rhythm guitar 2 has only 8 % of its notes on the main hits. All clutter together costs \
             1.3 dB (0.8 to 1.9 dB), estimated."
        );
        let (tracks, mut clutter) = cluttered(0.0, 0.9);
        clutter.leak.measured = true;
        let says = clutter_says(&tracks, &clutter);
        assert!(says.contains("sustains through 90 % of the main hits"), "{says}");
        assert!(says.ends_with("(0.8 to 1.9 dB), re-measured."), "{says}");
        let advice = clutter_advice(&tracks, &clutter, &TimingReading::default());
        assert_eq!(advice.as_deref(), Some("Turn down or mute rhythm guitar 2: recovers 1.3 dB."));
    }

    #[test]
    fn what_costs_most_after_the_first_is_named() {
        let (mut tracks, mut clutter) = cluttered(0.0, 0.9);
        for (name, db) in [("organ", 0.2), ("strings", 0.4), ("pad", 0.02), ("shaker", 0.3)] {
            tracks.push(PartTrack { name: name.to_owned(), ..PartTrack::default() });
            let cost = Some(Cost { db, low_db: db, high_db: db });
            clutter.rows.push(ClutterRow { cost, ..ClutterRow::default() });
        }
        let says = clutter_says(&tracks, &clutter);
        let rest = "estimated. Next: strings 0.4 dB, shaker 0.3 dB, organ 0.2 dB.";
        assert!(says.ends_with(rest), "{says}");
    }

    /// Where rhythms are the reason, they are what is said and advised, with what they cost.
    #[test]
    fn too_many_rhythms_are_said_to_be_the_reason() {
        let (tracks, mut clutter) = cluttered(0.08, 0.0);
        clutter.leak.cost = Some(Cost { db: 0.3, low_db: 0.1, high_db: 0.4 });
        clutter.reason = Some(ClutterReason::Rhythms);
        assert_eq!(
            clutter_says(&tracks, &clutter),
            "1 rhythm apart from the drums': rhythm guitar 2. rhythm guitar 2 misses most main hits; \
             8 % of its notes fall on them. That sounds cluttered whatever it costs: 0.3 dB (0.1 to \
             0.4 dB), estimated."
        );
        let advice = clutter_advice(&tracks, &clutter, &TimingReading::default());
        assert_eq!(
            advice.as_deref(),
            Some("Play rhythm guitar 2 with the drums, or drop it there.")
        );
    }

    #[test]
    fn a_part_that_is_late_as_a_whole_is_moved_and_not_thinned_out() {
        let (tracks, clutter) = cluttered(0.08, 0.0);
        let timing =
            TimingReading { beyond_ms: vec![None, Some(59.9)], ..TimingReading::default() };
        assert_eq!(
            clutter_advice(&tracks, &clutter, &timing).as_deref(),
            Some("First move rhythm guitar 2: it is 59.9 ms late all through.")
        );
    }

    #[test]
    fn no_advice_is_too_long() {
        for (notes, held) in [(0.1, 0.0), (0.0, 0.9)] {
            let (mut tracks, mut clutter) = cluttered(notes, held);
            tracks[1].name = "a very long name of a part that someone gave.flac".to_owned();
            for reason in [ClutterReason::Cost, ClutterReason::Rhythms] {
                clutter.reason = Some(reason);
                let advice = clutter_advice(&tracks, &clutter, &TimingReading::default());
                let advice = advice.expect("advice");
                assert!(advice.chars().count() <= ADVICE_CHARS, "{advice}");
            }
        }
    }
}

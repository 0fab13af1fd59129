//! What guitars say about their gain, alone and take against take.

use brunt_engine::State;
use brunt_engine::parts::PartTrack;
use brunt_engine::parts::drive::{Drive, Takes};
use brunt_engine::thresholds::arrangement::{DROP_WANTED_DB, TAKES_DIFFER_DB};

use super::evidence::{cost, need};
use super::line::{fit, part_name, percent, short_name};
use super::number::value;

/// One line of evidence: the guitar with the least attack, what is wanted, the guitars' share of
/// the mids at hits, and what their gain costs.
#[must_use]
pub fn drive_says(tracks: &[PartTrack], drive: &Drive) -> String {
    if drive.leak.state == State::Unknown {
        return need(&drive.leak.need);
    }
    let drop = |part: usize| drive.rows[part].drop_db();
    let flattest = (0..drive.rows.len())
        .filter_map(|part| drop(part).map(|db| (part, db)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((part, drop_db)) = flattest else { return need(&drive.leak.need) };
    let crest = drive.rows[part]
        .notes
        .map_or(String::new(), |notes| format!("; crest {}", value(Some(notes.crest_db), "dB")));
    let share = drive.mid_share.map_or(String::new(), |share| {
        format!("; guitars hold {} of the mids at hits", percent(share))
    });
    let wanted = value(Some(DROP_WANTED_DB), "dB");
    let costs = cost(drive.leak.cost);
    // What it costs stands ahead of the rest: a narrow screen shows the beginning.
    let costs = match (drive.leak.state, drop_db < DROP_WANTED_DB) {
        (State::Clear | State::Unknown, true) => {
            format!(" where {wanted} would do; costs this mix next to nothing, {costs}")
        }
        (State::Clear | State::Unknown, false) => format!("; next to no cost, {costs}"),
        (State::Watch | State::Leaking, _) => format!("; with {wanted} {costs} would come back"),
    };
    format!(
        "{} drops {} from attack to sustain{costs}{crest}{share}.",
        part_name(&tracks[part]),
        value(Some(drop_db), "dB")
    )
}

/// What to try first, in one line.
#[must_use]
pub fn drive_advice(tracks: &[PartTrack], drive: &Drive) -> Option<String> {
    if !matches!(drive.leak.state, State::Watch | State::Leaking) {
        return None;
    }
    let part = drive.worst?;
    Some(fit(format!(
        "Less gain on {}, more level: its picks should stand out.",
        short_name(&tracks[part])
    )))
}

/// Which of two takes of one riff has more attack, in one line. `a` and `b` name them.
#[must_use]
pub fn takes_say(a: &str, b: &str, takes: &Takes) -> String {
    let size = value(Some(takes.more_attack_db.abs()), "dB");
    let least = value(Some(TAKES_DIFFER_DB), "dB");
    if !takes.differ() {
        return format!("{a} and {b} have about the same attack (within {least}).");
    }
    let (more, less) = if takes.more_attack_db > 0.0 { (a, b) } else { (b, a) };
    format!("{more} has {size} more attack than {less}: it sounds played with less gain.")
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::drive::{DriveRow, Held, NoteReading};
    use brunt_engine::{Cost, PartLeak};

    use super::*;

    fn reading(drop_db: f64) -> NoteReading {
        NoteReading { drop_db, held: Held::Held, notes: 30, crest_db: 7.2, fill_db: -12.0 }
    }

    #[test]
    fn gain_that_costs_nothing_is_said_to_cost_nothing() {
        let tracks = [PartTrack { name: "gtr.wav".to_owned(), ..PartTrack::default() }];
        let cost = Some(Cost { db: 0.3, low_db: 0.2, high_db: 0.4 });
        let drive = Drive {
            leak: PartLeak { state: State::Clear, cost, ..PartLeak::default() },
            rows: vec![DriveRow { notes: Some(reading(0.8)), ..DriveRow::default() }],
            mid_share: Some(0.45),
            worst: Some(0),
        };
        let says = drive_says(&tracks, &drive);
        assert!(says.contains("gtr drops 0.8 dB") && says.contains("next to nothing"), "{says}");
        assert!(says.contains("45 % of the mids"), "{says}");
        assert_eq!(drive_advice(&tracks, &drive), None);
    }

    #[test]
    fn the_take_with_more_attack_is_named_whichever_comes_first() {
        let takes =
            |db| Takes { level_spread_db: (3.0, 3.0 - db), notes: None, more_attack_db: db };
        for (db, more) in [(1.4, "one has 1.4 dB more attack than two"), (-1.4, "two has 1.4 dB")] {
            let says = takes_say("one", "two", &takes(db));
            assert!(says.starts_with(more), "{says}");
        }
        assert!(takes_say("one", "two", &takes(0.1)).contains("about the same"));
    }
}

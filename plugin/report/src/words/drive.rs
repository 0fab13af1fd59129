//! What guitars say about their gain, alone and take against take.

use brunt_engine::State;
use brunt_engine::parts::PartTrack;
use brunt_engine::parts::drive::{Drive, Takes, ToldBy};
use brunt_engine::thresholds::arrangement::{DROP_LESS_GAIN_DB, DROP_WANTED_DB};

use super::evidence::{cost, little, need};
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
    let drops = format!(
        "{}: attack is {} above sustain",
        part_name(&tracks[part]),
        value(Some(drop_db), "dB")
    );
    let quiet = matches!(drive.leak.state, State::Clear | State::Unknown);
    if quiet {
        let costs = little(drive.leak.cost);
        let wanted = value(Some(DROP_WANTED_DB), "dB");
        return if drop_db < DROP_WANTED_DB {
            format!("{drops}, and {wanted} is enough; {costs}.")
        } else {
            format!("{drops}; {costs}.")
        };
    }
    let crest = drive.rows[part]
        .notes
        .map_or(String::new(), |notes| format!("; crest {}", value(Some(notes.crest_db), "dB")));
    let share = drive.mid_share.map_or(String::new(), |share| {
        format!(" Guitars are {} of the mids at hits.", percent(share))
    });
    let less = value(Some(DROP_LESS_GAIN_DB), "dB");
    format!("{drops}; at {less} you would recover {}{crest}.{share}", cost(drive.leak.cost))
}

/// What to try first, in one line; `None` where there is nothing to say of these guitars.
#[must_use]
pub fn drive_advice(tracks: &[PartTrack], drive: &Drive) -> Option<String> {
    let flat = drive.rows.iter().filter_map(|row| row.drop_db()).any(|db| db < DROP_WANTED_DB);
    if drive.leak.state == State::Clear && flat {
        return Some("Leave it, or try less gain by ear: this mix would gain little.".to_owned());
    }
    if !drive.leak.state.loses() {
        return None;
    }
    let part = drive.worst?;
    Some(fit(format!(
        "Less gain on {}, more level: pick attack should rise.",
        short_name(&tracks[part])
    )))
}

/// Which of two takes of one riff has more attack, in one line. `a` and `b` name them.
#[must_use]
pub fn takes_say(a: &str, b: &str, takes: &Takes) -> String {
    let size = value(Some(takes.more_attack_db.abs()), "dB");
    if !takes.differ() {
        return format!("{a} and {b} have about the same attack: {size} apart.");
    }
    let (more, less) = if takes.more_attack_db > 0.0 { (a, b) } else { (b, a) };
    let by = match takes.told_by {
        ToldBy::Notes => "",
        ToldBy::Levels => " by level spread",
    };
    format!("{more} has {size} more attack than {less}{by}: it sounds played with less gain.")
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::drive::{DriveRow, Held, NoteReading};
    use brunt_engine::{Cost, PartLeak};

    use super::super::advice::ADVICE_CHARS;
    use super::*;

    fn reading(drop_db: f64) -> NoteReading {
        NoteReading { drop_db, held: Held::Held, notes: 30, crest_db: 7.2, fill_db: -12.0 }
    }

    #[test]
    fn gain_that_costs_nothing_is_said_to_cost_nothing() {
        let tracks = [PartTrack { name: "gtr.wav".to_owned(), ..PartTrack::default() }];
        let drive = |state, db| Drive {
            leak: PartLeak {
                state,
                cost: Some(Cost { db, low_db: db - 0.1, high_db: db + 0.1 }),
                ..PartLeak::default()
            },
            rows: vec![DriveRow { notes: Some(reading(0.8)), ..DriveRow::default() }],
            mid_share: Some(0.45),
            worst: Some(0),
            ..Drive::default()
        };
        let clear = drive(State::Clear, 0.3);
        let says = drive_says(&tracks, &clear);
        assert!(
            says.contains("gtr: attack is 0.8 dB above")
                && says.contains("negligible cost, 0.3 dB"),
            "{says}"
        );
        let advice = drive_advice(&tracks, &clear).expect("by ear");
        assert!(advice.starts_with("Leave it") && advice.chars().count() <= ADVICE_CHARS);
        let leaking = drive(State::Leaking, 2.3);
        let says = drive_says(&tracks, &leaking);
        assert!(says.contains("you would recover 2.3 dB (2.2 to 2.4 dB)"), "{says}");
        assert!(says.contains("45 % of the mids"), "{says}");
        let advice = drive_advice(&tracks, &leaking).expect("what to do");
        assert!(advice.starts_with("Less gain on gtr"), "{advice}");
    }

    #[test]
    fn the_take_with_more_attack_is_named_whichever_comes_first() {
        let takes = |db, told_by| Takes {
            level_spread_db: (3.0, 2.0),
            notes: None,
            more_attack_db: db,
            told_by,
        };
        for (db, by, more) in [
            (1.4, ToldBy::Notes, "one has 1.4 dB more attack than two: it"),
            (-1.4, ToldBy::Levels, "two has 1.4 dB more attack than one by level spread: it"),
        ] {
            let says = takes_say("one", "two", &takes(db, by));
            assert!(says.starts_with(more), "{says}");
        }
        for by in [ToldBy::Notes, ToldBy::Levels] {
            assert!(takes_say("one", "two", &takes(0.1, by)).contains("about the same"));
        }
    }
}

//! What guitars say about their gain, alone and take against take.

use brunt_engine::parts::PartTrack;
use brunt_engine::parts::drive::{Drive, Takes, ToldBy};
use brunt_engine::{Need, State};

use super::evidence::{cost, how};
use super::line::{fit, part_name, percent, short_name};
use super::need::{main_hits, need};
use super::number::value;

/// Where one take cannot show how much gain it has.
const CANNOT_TELL: &str = "Can't tell from this take alone; a take with less gain shows it: run \
                           brunt takes.";

/// One line of evidence: what gain takes off the guitars' own attack, which is heard first, and what
/// the mix's hits lose by it; where it is much, the guitars' share of the mids at hits.
#[must_use]
pub fn drive_says(tracks: &[PartTrack], drive: &Drive) -> String {
    if drive.leak.state == State::Unknown {
        return match drive.leak.need {
            Need::Evidence => CANNOT_TELL.to_owned(),
            other => need(&other),
        };
    }
    let known = drive.rows.iter().filter(|row| row.saturation.is_some()).count();
    let (who, whose) = match drive.worst {
        Some(part) if known == 1 => (part_name(&tracks[part]), "its"),
        _ => ("Guitars".to_owned(), "their"),
    };
    let loses = drive.leak.state.loses();
    let lost = match drive.leak.attack_lost {
        Some(lost) if !loses => value(Some(lost.db), "dB"),
        lost => cost(lost),
    };
    // What the state goes by.
    let beyond = drive.leak.attack.filter(|_| loses).map_or(String::new(), |beyond| {
        format!(", {} more than distortion needs", value(Some(beyond.db), "dB"))
    });
    let hits = match drive.leak.cost {
        Some(hits) => {
            let so_far = if beyond.is_empty() { "; hits" } else { ". Hits" };
            format!("{so_far} lose {}, {}", value(Some(hits.db), "dB"), how(drive.leak.measured))
        }
        None => match drive.hits_need {
            Need::Hits { have, want } => {
                let few = main_hits(have, want);
                format!("; what hits lose: {}", few.trim_end_matches('.'))
            }
            // Hits are there, and what they lose lies in too wide a range.
            _ if drive.mid_share.is_some() => "; one take can't show what hits lose".to_owned(),
            _ => String::new(),
        },
    };
    let share = drive.mid_share.filter(|_| loses).map_or(String::new(), |share| {
        format!(" Guitars are {} of the mids at hits.", percent(share))
    });
    format!("{who}: gain takes {lost} off {whose} own attack{beyond}{hits}.{share}")
}

/// What to try first, in one line; `None` where there is nothing to say of these guitars.
#[must_use]
pub fn drive_advice(tracks: &[PartTrack], drive: &Drive) -> Option<String> {
    if !drive.leak.state.loses() {
        return None;
    }
    let part = drive.worst?;
    Some(fit(format!(
        "Gain down, level up on {}: pick attack should rise.",
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
    use brunt_engine::parts::drive::{DriveRow, Saturation, beyond_need};
    use brunt_engine::{Cost, PartLeak};

    use super::super::advice::ADVICE_CHARS;
    use super::*;

    fn drive(state: State, kept: f64, hits_db: Option<f64>) -> Drive {
        let saturation =
            Saturation { kept, kept_low: kept - 0.1, kept_high: kept + 0.1, unlimited: kept };
        let lost = saturation.attack_lost();
        let cost = |db| Cost { db, low_db: db - 0.1, high_db: db + 0.1 };
        Drive {
            leak: PartLeak {
                state,
                cost: hits_db.map(cost),
                attack: Some(beyond_need(lost)),
                attack_lost: Some(lost),
                ..PartLeak::default()
            },
            rows: vec![DriveRow { saturation: Some(saturation), ..DriveRow::default() }],
            mid_share: Some(0.45),
            worst: Some(0),
            ..Drive::default()
        }
    }

    #[test]
    fn the_guitars_own_attack_comes_first_and_the_hits_second() {
        let tracks = [PartTrack { name: "gtr.wav".to_owned(), ..PartTrack::default() }];
        let says = drive_says(&tracks, &drive(State::Clear, 0.9, Some(0.1)));
        assert!(says.contains("gtr: gain takes 0.5 dB off its own attack"), "{says}");
        assert!(says.contains("hits lose 0.1 dB") && !says.contains("mids"), "{says}");
        assert_eq!(drive_advice(&tracks, &drive(State::Clear, 0.9, Some(0.1))), None);

        let leaking = drive(State::Leaking, 0.3, Some(0.6));
        let says = drive_says(&tracks, &leaking);
        assert!(says.contains("3.5 dB (3.0 to 4.0 dB) off its own attack"), "{says}");
        assert!(
            says.contains("own attack, 2.2 dB more than distortion needs. Hits lose 0.6 dB"),
            "{says}"
        );
        assert!(says.contains("45 % of the mids"), "{says}");
        let advice = drive_advice(&tracks, &leaking).expect("what to do");
        assert!(advice.starts_with("Gain down, level up on gtr"), "{advice}");
        assert!(advice.chars().count() <= ADVICE_CHARS, "{advice}");
    }

    #[test]
    fn a_guitar_alone_says_nothing_of_hits_and_a_strange_one_names_the_takes() {
        let tracks = [PartTrack { name: "gtr.wav".to_owned(), ..PartTrack::default() }];
        let says = drive_says(&tracks, &drive(State::Watch, 0.5, None));
        assert!(says.contains("one take can't show what hits lose"), "{says}");
        let mut few = drive(State::Watch, 0.5, None);
        few.hits_need = Need::Hits { have: 14, want: 16 };
        let says = drive_says(&tracks, &few);
        assert!(
            says.contains("; what hits lose: 14 main hits in this passage, 16 needed."),
            "{says}"
        );
        let mut alone = drive(State::Watch, 0.5, None);
        alone.mid_share = None;
        let says = drive_says(&tracks, &alone);
        assert!(!says.to_lowercase().contains("hits"), "{says}");
        let mut strange = drive(State::Unknown, 0.5, None);
        strange.leak.need = Need::Evidence;
        assert!(drive_says(&tracks, &strange).contains("brunt takes"));
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

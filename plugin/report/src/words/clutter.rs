//! What the parts say about clutter, and which to thin out.

use brunt_engine::State;
use brunt_engine::parts::PartTrack;
use brunt_engine::parts::clutter::{Clutter, ClutterRow};
use brunt_engine::parts::timing::TimingReading;
use brunt_engine::thresholds::arrangement::HELD_LAYERS;

use super::evidence::{cost, little, need};
use super::line::{fit, part_name, percent, short_name};
use super::number::{span, value};

/// Share of own onsets, or of hits held through, from which it is worth a word.
const WORTH_A_WORD: f64 = 0.25;

/// One line of evidence: the part that fills the most, with what, and what all clutter costs.
#[must_use]
pub fn clutter_says(tracks: &[PartTrack], clutter: &Clutter) -> String {
    if clutter.leak.state == State::Unknown {
        return need(&clutter.leak.need);
    }
    let costs = cost(clutter.leak.cost);
    match clutter.worst {
        Some(part) if clutter.leak.state != State::Clear => format!(
            "{}: {}. All clutter together costs {costs}.",
            part_name(&tracks[part]),
            filling(&clutter.rows[part])
        ),
        _ => format!("{}; {}.", uncluttered(tracks, clutter), little(clutter.leak.cost)),
    }
}

/// Why there is no clutter: what carries a song may fill the gaps, and that is said.
fn uncluttered(tracks: &[PartTrack], clutter: &Clutter) -> String {
    let holds = |row: &ClutterRow| row.held_share.filter(|&held| held >= WORTH_A_WORD);
    let most = clutter
        .rows
        .iter()
        .enumerate()
        .filter_map(|(part, row)| holds(row).map(|held| (part, held)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match most {
        Some((part, held)) => format!(
            "{} sustains through {} of the main hits, but up to {HELD_LAYERS} such layers are \
             balance, not clutter",
            part_name(&tracks[part]),
            percent(held)
        ),
        None => "Parts play with the drums or leave room between hits".to_owned(),
    }
}

/// How a part fills the space between hits.
fn filling(row: &ClutterRow) -> String {
    let own = row.own_rhythm.filter(|&own| own >= WORTH_A_WORD);
    let held = row.held_share.filter(|&held| held >= WORTH_A_WORD);
    match (own, held) {
        (Some(own), _) => {
            format!("{} of its notes fall where no drum hits", percent(own))
        }
        (None, Some(held)) => format!(
            "sustains through {} of the main hits, on top of {HELD_LAYERS} stronger layers",
            percent(held)
        ),
        (None, None) => "fills the space between hits most".to_owned(),
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
    let back = clutter.rows[part].cost?;
    Some(fit(format!(
        "Thin out {}: recovers {} ({}).",
        short_name(&tracks[part]),
        value(Some(back.db), "dB"),
        span(back.low_db, back.high_db, "dB")
    )))
}

#[cfg(test)]
mod tests {
    use brunt_engine::{Cost, PartLeak};

    use super::super::advice::ADVICE_CHARS;
    use super::*;

    /// A pad that holds through the hits carries a song, and is not said to leave room.
    #[test]
    fn a_layer_that_holds_is_named_where_it_is_no_clutter() {
        let (tracks, mut clutter) = cluttered(0.0, 0.91);
        clutter.leak.state = State::Clear;
        let says = clutter_says(&tracks, &clutter);
        assert!(
            says.contains("sustains through 91 % of the main hits, but up to 2 such"),
            "{says}"
        );
        clutter.rows[1].held_share = Some(0.1);
        let says = clutter_says(&tracks, &clutter);
        assert!(says.starts_with("Parts play with the drums or leave room"), "{says}");
    }

    fn cluttered(own: f64, held: f64) -> (Vec<PartTrack>, Clutter) {
        let track = |name: &str| PartTrack { name: name.to_owned(), ..PartTrack::default() };
        let cost = Some(Cost { db: 1.3, low_db: 0.8, high_db: 1.9 });
        let row = ClutterRow {
            shared_onset_ratio: Some(0.21),
            own_rhythm: Some(own),
            held_share: Some(held),
            cost,
            ..ClutterRow::default()
        };
        let clutter = Clutter {
            leak: PartLeak { state: State::Watch, cost, ..PartLeak::default() },
            rows: vec![ClutterRow::default(), row],
            layers_at_hits: Some(3.9),
            worst: Some(1),
            ..Clutter::default()
        };
        (vec![track("stems/drums.wav"), track("stems/rhythm guitar 2.wav")], clutter)
    }

    #[test]
    fn the_part_to_thin_out_is_named_with_what_comes_back() {
        let (tracks, clutter) = cluttered(0.62, 0.0);
        assert_eq!(
            clutter_advice(&tracks, &clutter, &TimingReading::default()).as_deref(),
            Some("Thin out rhythm guitar 2: recovers 1.3 dB (0.8 to 1.9 dB).")
        );
        assert_eq!(
            clutter_says(&tracks, &clutter),
            "rhythm guitar 2: 62 % of its notes fall where no drum hits. All clutter together costs \
             1.3 dB (0.8 to 1.9 dB)."
        );
    }

    #[test]
    fn a_part_that_is_late_as_a_whole_is_moved_and_not_thinned_out() {
        let (tracks, clutter) = cluttered(0.62, 0.0);
        let timing =
            TimingReading { beyond_ms: vec![None, Some(59.9)], ..TimingReading::default() };
        assert_eq!(
            clutter_advice(&tracks, &clutter, &timing).as_deref(),
            Some("First move rhythm guitar 2: it is 59.9 ms late all through.")
        );
    }

    #[test]
    fn a_held_layer_is_told_from_a_busy_one_and_no_advice_is_too_long() {
        let (mut tracks, clutter) = cluttered(0.0, 0.9);
        let says = clutter_says(&tracks, &clutter);
        assert!(says.contains("sustains through 90 % of the main hits"), "{says}");
        tracks[1].name = "a very long name of a part that someone gave.flac".to_owned();
        let advice = clutter_advice(&tracks, &clutter, &TimingReading::default()).expect("advice");
        assert!(advice.chars().count() <= ADVICE_CHARS, "{advice}");
    }
}

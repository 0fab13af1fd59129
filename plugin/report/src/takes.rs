//! The JSON `brunt-takes/1`: takes of one riff, and which has most attack.

use brunt_engine::parts::PartTrack;
use brunt_engine::parts::drive::{Held, Takes, compare, level_spread_db, read_notes};
use serde::{Deserialize, Serialize};

use crate::words;

/// Name and version of the JSON's form.
pub const TAKES_SCHEMA: &str = "brunt-takes/1";

/// One take. Numbers are in the unit that their name ends in; `null` means *not known*.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TakeReport {
    /// The file as the user named it.
    pub file: String,
    /// How far loud moments stand out, dB: the mean level of the loudest quarter of all 10 ms less
    /// that of the quarter below it. It falls as gain rises, and is good for takes of one riff
    /// only.
    pub level_spread_db: Option<f64>,
    /// Drop from a note's attack to its sustain, dB, of notes that last.
    pub attack_to_sustain_db: Option<f64>,
    /// Crest factor of a note, dB.
    pub crest_db: Option<f64>,
    /// Power above 4 kHz over that from 200 Hz to 4 kHz in the sustain, dB.
    pub fill_db: Option<f64>,
    /// How much more attack it has than the first take, dB: more drop from attack to sustain where
    /// both have one that tells the same way as the level spread, else more level spread; `null`
    /// for the first.
    pub more_attack_db: Option<f64>,
    /// The comparison with the first take in one line; `null` for the first.
    pub says: Option<String>,
}

/// Takes of one riff.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TakesReport {
    /// Always [`TAKES_SCHEMA`].
    pub schema: String,
    /// The takes in the order given.
    pub takes: Vec<TakeReport>,
    /// Number of the take with most attack, from 0; `null` where the first two are too close to
    /// call.
    pub most_attack: Option<usize>,
    /// The answer in one line.
    pub says: String,
}

impl TakesReport {
    /// Compares takes; `None` where one plays for less than 2 s, with its number.
    ///
    /// # Errors
    /// The number of a take that plays too little.
    pub fn new(tracks: &[PartTrack]) -> Result<Self, usize> {
        let mut takes: Vec<TakeReport> = Vec::new();
        let files: Vec<&str> = tracks.iter().map(|track| &*track.name).collect();
        let names = words::differing_names(&files);
        let line =
            |a: usize, b: usize, takes: &Takes| words::takes_say(&names[a], &names[b], takes);
        for (number, track) in tracks.iter().enumerate() {
            let notes = read_notes(track);
            let spread = level_spread_db(track).ok_or(number)?;
            let versus = if number == 0 { None } else { compare(track, &tracks[0]) };
            takes.push(TakeReport {
                file: track.name.clone(),
                level_spread_db: Some(spread),
                attack_to_sustain_db: notes
                    .filter(|notes| notes.held == Held::Held)
                    .map(|notes| notes.drop_db),
                crest_db: notes.map(|notes| notes.crest_db),
                fill_db: notes.map(|notes| notes.fill_db),
                more_attack_db: versus.map(|takes| takes.more_attack_db),
                says: versus.map(|takes| line(number, 0, &takes)),
            });
        }
        let spread = |n: &usize| takes[*n].level_spread_db.unwrap_or(0.0);
        let mut order: Vec<usize> = (0..takes.len()).collect();
        order.sort_by(|a, b| spread(b).total_cmp(&spread(a)));
        let (mut most_attack, mut says) = (None, String::new());
        if let [first, second, ..] = order[..]
            && let Some(lead) = compare(&tracks[first], &tracks[second])
        {
            most_attack = lead.differ().then_some(first);
            says = line(first, second, &lead);
        }
        Ok(Self { schema: TAKES_SCHEMA.to_owned(), takes, most_attack, says })
    }

    /// The report as indented JSON, ending in a line feed.
    ///
    /// # Errors
    /// Never for a report made by [`TakesReport::new`]; the JSON writer's error otherwise.
    pub fn to_json(&self) -> serde_json::Result<String> {
        let mut text = serde_json::to_string_pretty(self)?;
        text.push('\n');
        Ok(text)
    }
}

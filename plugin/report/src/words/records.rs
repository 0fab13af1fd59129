//! Where a mix lies among finished records. No judgement: a record that is out is no target.

use brunt_engine::records::contrast_percentile;
use brunt_engine::thresholds::records::{CONTRAST_DB, RECORDS};

use super::number::{span, value};

/// What the records are.
pub const GENRES: &str = "game music and amateur metal";

/// Title of what the mark on the scale of the hit contrast shows.
pub const USUAL: &str = "Usual in finished records";
/// The same in a word, in the legend.
pub const USUAL_SHORT: &str = "records";

/// What a share of the records is, in a few words.
#[must_use]
pub fn lower() -> String {
    format!("of {RECORDS} finished records of {GENRES} are lower")
}

/// Where a hit contrast lies among finished records, as one sentence.
#[must_use]
pub fn contrast_among_records(db: f64) -> String {
    let than = comparison(contrast_percentile(db), "higher", "lower");
    format!("{}: {than} of {GENRES}.", value(Some(db), "dB"))
}

/// The 10th to 90th percentile of the records' hit contrast.
#[must_use]
pub fn usual_contrast() -> String {
    let (low, high) = CONTRAST_DB.usual();
    format!(
        "{RECORDS} finished records of {GENRES}: {} at the 10th to 90th percentile",
        span(low, high, "dB")
    )
}

/// How weak the mids of a mix are among finished records, by the share of those with less weak mids, %.
#[must_use]
pub fn mids_among_records(percentile: f64) -> String {
    let [weaker, stronger] =
        ["weaker", "stronger"].map(|word| format!("{word} against the lows and highs"));
    comparison(percentile, &weaker, &stronger).replace(" than ", " than in ")
}

/// "higher than 70 % of 131 finished records", by the share of records under a value, %.
fn comparison(percentile: f64, higher: &str, lower: &str) -> String {
    let under = percentile.round();
    let (word, share) = if under >= 50.0 { (higher, under) } else { (lower, 100.0 - under) };
    if share >= 100.0 {
        return format!("{word} than all {RECORDS} finished records");
    }
    format!("{word} than {share:.0} % of {RECORDS} finished records")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_among_records_is_said_from_the_nearer_end() {
        let of = |percentile| comparison(percentile, "higher", "lower");
        assert_eq!(of(70.4), format!("higher than 70 % of {RECORDS} finished records"));
        assert_eq!(of(30.0), format!("lower than 70 % of {RECORDS} finished records"));
        assert_eq!(of(50.0), format!("higher than 50 % of {RECORDS} finished records"));
        assert_eq!(of(0.0), format!("lower than all {RECORDS} finished records"));
        assert_eq!(of(99.8), format!("higher than all {RECORDS} finished records"));
    }

    #[test]
    fn the_sentence_about_a_contrast_says_what_it_is_compared_with() {
        let (low, high) = CONTRAST_DB.usual();
        let says = contrast_among_records(high);
        let wanted = format!(
            ": higher than 90 % of {RECORDS} finished records of game music and amateur metal."
        );
        assert!(says.ends_with(&wanted), "{says}");
        assert!(contrast_among_records(low).contains("lower than 90 %"));
        assert!(usual_contrast().contains(&span(low, high, "dB")));
    }
}

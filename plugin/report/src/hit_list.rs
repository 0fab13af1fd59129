//! The hits as CSV (RFC 4180): a line of names, then one line a hit. The names are those of the
//! JSON, each ending in its unit; an empty field is a value that is not known.

use crate::report::HitReport;

/// Names of the columns, in their order.
pub const COLUMNS: [&str; 9] = [
    "time_s",
    "true_peak_dbtp",
    "contrast_db",
    "lost_db",
    "level_lufs",
    "bed_lufs",
    "attack_ms",
    "small_contrast_db",
    "small_vanishes",
];

/// The hits as CSV, in order of time, with the numbers that the JSON has.
///
/// # Errors
/// Never for plain numbers; the CSV writer's error otherwise.
pub fn to_csv(hits: &[HitReport]) -> Result<String, csv::Error> {
    // The names stand there even when there are no hits, which serialising alone would leave out.
    let mut writer = csv::WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for hit in hits {
        writer.serialize(hit)?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_is_empty_and_numbers_are_those_of_the_json() {
        let hit = HitReport { time_s: 1.25, contrast_db: Some(9.123_456), ..HitReport::default() };
        let text = to_csv(&[hit]).expect("numbers");
        assert_eq!(text, format!("{}\n1.25,,9.123456,,,,,,\n", COLUMNS.join(",")));
        assert_eq!(to_csv(&[]).expect("names"), format!("{}\n", COLUMNS.join(",")));
    }

    #[test]
    fn the_columns_are_the_fields_of_a_hit_in_their_order() {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.serialize(HitReport::default()).expect("numbers");
        let bytes = writer.into_inner().expect("bytes");
        let header = String::from_utf8(bytes).expect("UTF-8");
        assert_eq!(header.lines().next(), Some(COLUMNS.join(",").as_str()));
    }
}

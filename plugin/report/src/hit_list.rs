//! The hits as CSV (RFC 4180): a line of names, then one line a hit. Names and numbers are those
//! of the JSON, each name ending in its unit; an empty field is a value that is not known.

use csv::{Error, Writer, WriterBuilder};

use crate::report::HitReport;

/// The hits as CSV, in order of time.
///
/// # Errors
/// Never for plain numbers; the CSV writer's error otherwise.
pub fn to_csv(hits: &[HitReport]) -> Result<String, Error> {
    let mut writer = WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    for hit in hits {
        writer.serialize(hit)?;
    }
    Ok(names()? + &text(writer)?)
}

/// The line of names, which serialising no hit at all would leave out.
fn names() -> Result<String, Error> {
    let mut writer = Writer::from_writer(Vec::new());
    writer.serialize(HitReport::default())?;
    let mut text = text(writer)?;
    text.truncate(text.find('\n').map_or(text.len(), |end| end + 1));
    Ok(text)
}

fn text(writer: Writer<Vec<u8>>) -> Result<String, Error> {
    let bytes = writer.into_inner().map_err(|e| Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_is_empty_and_numbers_are_those_of_the_json() {
        let hit = HitReport { time_s: 1.25, contrast_db: Some(9.123_456), ..HitReport::default() };
        let text = to_csv(&[hit]).expect("numbers");
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines[0].starts_with("time_s,true_peak_dbtp,contrast_db,lost_db,"), "{text}");
        assert!(lines[1].starts_with("1.25,,9.123456,,"), "{text}");
        assert_eq!(lines[0].matches(',').count(), lines[1].matches(',').count());
        assert_eq!(to_csv(&[]).expect("names"), format!("{}\n", lines[0]));
    }
}

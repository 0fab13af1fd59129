//! What to move, for a workstation: as CSV (RFC 4180), and as a Standard MIDI File of markers with a
//! tempo map.

use csv::{Error, WriterBuilder};
use midly::num::{u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, TrackEvent, TrackEventKind};

use crate::report::{EditReport, Tempo};
use crate::words::edits as say;

/// Ticks a quarter note: 0.5 ms at 120 beats a minute.
const TICKS: u16 = 960;
/// Tempo of the file where the song's is not known, beats a minute: markers then lie right by the
/// clock.
const PLAIN_BPM: f64 = 120.0;
/// Most markers: those of the dearest edits. Ours: more would hide the song; the CSV has them all.
pub const MOST_MARKERS: usize = 200;
/// Names of the columns, as in the JSON.
const COLUMNS: [&str; 9] =
    ["part", "role", "file", "time_s", "bar", "beat", "move_ms", "lies", "cost_db"];

/// The edits as CSV, the dearest first; an empty field is a value that is not known.
///
/// # Errors
/// Never for plain numbers and text; the CSV writer's error otherwise.
pub fn to_csv(edits: &[EditReport]) -> Result<String, Error> {
    let mut writer = WriterBuilder::new().has_headers(false).from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for edit in edits {
        writer.serialize(edit)?;
    }
    let bytes = writer.into_inner().map_err(|e| Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// The dearest edits as markers of a Standard MIDI File, in order of time, with the tempo and the meter
/// of the song; without a known tempo one of 120 beats a minute, at which markers lie right by the
/// clock.
///
/// # Errors
/// Never in memory; the writer's error otherwise.
pub fn to_midi(edits: &[EditReport], tempo: Option<&Tempo>) -> std::io::Result<Vec<u8>> {
    let bpm = tempo.map_or(PLAIN_BPM, |tempo| tempo.bpm);
    let beats = tempo.map_or(4, |tempo| tempo.beats_a_bar.clamp(1, 255)) as u8;
    // Whole microseconds, as the format has it: ticks follow from what is written.
    let quarter_us = (60e6 / bpm).round().clamp(1.0, f64::from(u24::max_value().as_int()));
    let mut marked: Vec<&EditReport> = edits.iter().take(MOST_MARKERS).collect();
    marked.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let text = |edit: &&EditReport| say::marker(&edit.part, edit.move_ms, &edit.lies, edit.cost_db);
    let texts: Vec<String> = marked.iter().map(text).collect();

    let meta = |delta: u32, message| TrackEvent {
        delta: u28::new(delta),
        kind: TrackEventKind::Meta(message),
    };
    let mut track = vec![
        meta(0, MetaMessage::TrackName(say::TRACK.as_bytes())),
        meta(0, MetaMessage::Tempo(u24::new(quarter_us as u32))),
        meta(0, MetaMessage::TimeSignature(beats, 2, 24, 8)),
    ];
    let mut at = 0u32;
    for (edit, text) in marked.iter().zip(&texts) {
        let ticks = edit.time_s.max(0.0) * 1e6 / quarter_us * f64::from(TICKS);
        let ticks = (ticks.round() as u32).min(u28::max_value().as_int()).max(at);
        track.push(meta(ticks - at, MetaMessage::Marker(text.as_bytes())));
        at = ticks;
    }
    track.push(meta(0, MetaMessage::EndOfTrack));
    let timing = Timing::Metrical(u15::new(TICKS));
    let header = Header::new(Format::SingleTrack, timing);
    let mut bytes = Vec::new();
    Smf { header, tracks: vec![track] }.write_std(&mut bytes)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(time_s: f64, cost_db: Option<f64>) -> EditReport {
        EditReport {
            part: "Bass, DI".to_owned(),
            time_s,
            move_ms: -12.5,
            lies: "late".to_owned(),
            cost_db,
            ..EditReport::default()
        }
    }

    #[test]
    fn the_csv_has_names_and_empty_fields() {
        let text = to_csv(&[edit(1.5, Some(2.25)), edit(0.5, None)]).expect("text");
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "part,role,file,time_s,bar,beat,move_ms,lies,cost_db");
        assert_eq!(lines[1], "\"Bass, DI\",,,1.5,,,-12.5,late,2.25");
        assert!(lines[2].ends_with("late,"), "{text}");
        assert_eq!(to_csv(&[]).expect("names").lines().count(), 1);
    }

    /// The bytes by the format's own description (Standard MIDI Files 1.0, RP-001): header chunk,
    /// variable-length delta times, meta events.
    #[test]
    fn the_file_is_a_standard_midi_file() {
        let tempo = Tempo { bpm: 100.0, beats_a_bar: 3 };
        let bytes = to_midi(&[edit(2.4, Some(1.0)), edit(0.6, None)], Some(&tempo)).expect("bytes");
        // MThd, length 6, format 0, one track, 960 ticks.
        assert_eq!(&bytes[..14], b"MThd\0\0\0\x06\0\0\0\x01\x03\xc0");
        let find = |wanted: &[u8]| bytes.windows(wanted.len()).position(|bytes| bytes == wanted);
        // 600,000 us a quarter note; 3 over 2 to the power of 2.
        assert!(find(b"\xff\x51\x03\x09\x27\xc0").is_some());
        assert!(find(b"\xff\x58\x04\x03\x02\x18\x08").is_some());
        // 0.6 s is a quarter note, 960 ticks: 0x87 0x40. The next lies 2880 ticks on: 0x96 0x40.
        let first = find(b"\x87\x40\xff\x06").expect("the first marker");
        let second = find(b"\x96\x40\xff\x06").expect("the second marker");
        assert!(first < second);
        assert!(bytes.ends_with(b"\xff\x2f\0"));
    }
}

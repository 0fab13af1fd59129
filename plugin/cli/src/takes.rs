//! Takes of one part against each other.

use std::path::Path;

use brunt_engine::Config;
use brunt_engine::parts::{PartMeter, PartRole, PartTrack};
use brunt_report::takes::TakesReport;
use brunt_report::words::{differing_names, value};

use crate::decode::AudioFile;
use crate::error::{Error, Fault, FileFault};

/// Measures the takes and compares them.
///
/// # Errors
/// Any fault of a file; [`Fault::TooLittle`] for one that plays for less than 2 s.
pub fn takes<P: AsRef<Path>>(paths: &[P]) -> Result<TakesReport, Error> {
    let tracks: Vec<PartTrack> =
        paths.iter().map(|path| track(path.as_ref())).collect::<Result<_, _>>()?;
    TakesReport::new(&tracks).map_err(|number| Fault::TooLittle.of(paths[number].as_ref()))
}

/// Measures one file as a guitar part, packet by packet.
fn track(path: &Path) -> Result<PartTrack, Error> {
    let mut file = AudioFile::open(path)?;
    let rate = f64::from(file.sample_rate_hz());
    let config = Config { sample_rate_hz: rate, channels: file.channels() };
    // The rate and the channels were checked on opening.
    let mut meter = PartMeter::new(config)
        .map_err(|e| Fault::from(FileFault::NotAudio(e.to_string())).of(path))?;
    let mut track = PartTrack {
        role: PartRole::Guitars,
        name: path.to_string_lossy().into_owned(),
        sample_rate_hz: rate,
        cell_frames: meter.cell_frames(),
        ..PartTrack::default()
    };
    let mut planes = Vec::new();
    while file.next_block(&mut planes)? {
        match &planes[..] {
            [mono] => meter.process(&[mono], &mut track),
            [left, right, ..] => meter.process(&[left, right], &mut track),
            [] => {}
        }
    }
    meter.finish(&mut track);
    Ok(track)
}

/// The comparison as a small table and its answer, for a terminal.
#[must_use]
pub fn render(report: &TakesReport) -> String {
    let files: Vec<&str> = report.takes.iter().map(|take| &*take.file).collect();
    let names = differing_names(&files);
    let width = names.iter().map(|name| name.chars().count()).max().unwrap_or(0).clamp(4, 30);
    let mut text = format!("{:width$}  level spread  attack to sustain     crest\n", "Take");
    for (name, take) in names.iter().zip(&report.takes) {
        let name: String = name.chars().take(width).collect();
        text.push_str(&format!(
            "{name:width$}  {:>12}  {:>17}  {:>8}\n",
            value(take.level_spread_db, "dB"),
            value(take.attack_to_sustain_db, "dB"),
            value(take.crest_db, "dB")
        ));
    }
    text.push('\n');
    text.push_str(&report.says);
    text.push('\n');
    for says in report.takes.iter().skip(1).filter_map(|take| take.says.as_ref()) {
        if *says != report.says {
            text.push_str(says);
            text.push('\n');
        }
    }
    text
}

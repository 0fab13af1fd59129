//! The pictures in the documents: the window on each version of the demo's song, measured anew and
//! drawn by the renderer of these tests.
//!
//! They are compared with those in `docs/pictures`, so that these cannot go stale. After a change that
//! is meant: `BRUNT_DOCUMENTS=write cargo test -p brunt-tests --test editor documents`.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use brunt::display::{BarLine, Display, Live, PlacedHit};
use brunt::editor::views::View;
use brunt::links::{Linked, LinkedPart, LinkedReading, PartStatus, Said};
use brunt::{SideRole, Theme};
use brunt_demo::song::{self, SAMPLE_RATE_HZ, TEMPO_BPM, Version};
use brunt_engine::parts::{PartTrack, Session};
use brunt_engine::{Config, HistoryPoint, Hit, Meter, Sink, Thresholds};
use brunt_report::words;
use egui::vec2;
use rayon::prelude::*;

use crate::render::Picture;
use crate::stage::Stage;

/// Share of the pixels that may differ. Ours: a figure's last digit moves some hundred pixels, a
/// sentence or a moved panel a tenth of them.
const MAY_DIFFER: f64 = 0.05;
/// Largest difference of a pixel's channel that is none: rounding of other machines.
const SAME: u8 = 8;

/// What a meter gives out.
#[derive(Default)]
struct Heard {
    hits: Vec<Hit>,
    history: Vec<HistoryPoint>,
}

impl Sink for Heard {
    fn hit(&mut self, hit: &Hit) {
        self.hits.push(*hit);
    }

    fn history(&mut self, point: &HistoryPoint) {
        self.history.push(*point);
    }
}

/// The window's content after a whole pass of a version, with a Brunt on every part.
fn display(version: Version) -> Display {
    let session = song::render(version);
    let rate = f64::from(SAMPLE_RATE_HZ);
    let config = Config { sample_rate_hz: rate, channels: 2 };
    let mut meter = Meter::new(config).expect("a rate in range");
    let mut heard = Heard::default();
    // As in the demo, the clean mix is the reference for the mids.
    let clean = (version == Version::Mids).then(|| song::render(Version::Clean).mix);
    if clean.is_some() {
        meter.set_side_role(brunt_engine::SideRole::Reference);
    }
    let reference = clean.as_ref().map(|mix| [&mix.left[..], &mix.right[..]]);
    let side = reference.as_ref().map(|planes| &planes[..]);
    meter.process(&[&session.mix.left, &session.mix.right], side, &mut heard);
    meter.finish(&mut heard);
    let readings = *meter.readings();
    let mut display = Display {
        readings,
        live: Live {
            momentary_lufs: readings.loudness.momentary_lufs,
            short_term_lufs: readings.loudness.short_term_lufs,
            true_peak_dbtp: readings.loudness.true_peak_dbtp,
            psr_db: readings.loudness.psr_db,
        },
        sample_rate_hz: rate,
        channels: 2,
        playing: true,
        ..Display::default()
    };
    let beats_a_second = TEMPO_BPM / 60.0;
    let placed = |hit: &Hit| PlacedHit { hit: *hit, beat: Some(hit.time_s * beats_a_second) };
    display.hits = heard.hits.iter().map(placed).collect();
    let bars = (session.mix.seconds() * beats_a_second / 4.0).ceil() as i64;
    let bar = |n: i64| BarLine { time_s: n as f64 * 4.0 / beats_a_second, number: n + 1 };
    display.bars = (0..bars).map(bar).collect();
    for point in &heard.history {
        display.song.add(point);
        display.fine.add(point);
    }
    let linked = linked(&session, config);
    linked.fill(&mut display.readings.leaks);
    display.linked = Arc::new(linked);
    display
}

/// What the parts show, as the instance on the mix bus has it.
fn linked(session: &song::Session, config: Config) -> Linked {
    let tracks = session.stems.par_iter().map(|stem| {
        let planes = [&stem.audio.left[..], &stem.audio.right[..]];
        PartTrack::measure(stem.role, stem.name, config, &planes).expect("a rate in range")
    });
    let parts = Session { tracks: tracks.collect() };
    let read = parts.read(&Thresholds::default());
    let mut reading = LinkedReading::default();
    reading.leaks = [read.timing.leak, read.clutter.leak, read.drive.leak];
    reading.said =
        words::parts_say(&parts.tracks, &read).map(|(says, advice)| Said { says, advice });
    reading.passage_s = Some((0.0, session.mix.seconds()));
    let part = |(index, track): (usize, &PartTrack)| LinkedPart {
        name: track.name.clone(),
        role: track.role,
        status: PartStatus::Heard,
        reference: read.timing.reference == Some(index),
        offset_ms: read.rows[index].offset_ms,
        spread_ms: read.rows[index].spread_ms,
        costs: read.rows[index].costs,
        ..LinkedPart::default()
    };
    let list: Vec<LinkedPart> = parts.tracks.iter().enumerate().map(part).collect();
    Linked { others: list.len(), parts: list, reading: Some(reading), ..Linked::default() }
}

fn picture(display: Display, view: View) -> Picture {
    let reference = display.readings.leaks.mids.beside.is_some();
    let mut stage = Stage::new(display, vec2(960.0, 600.0), 1.0, Theme::Dark);
    stage.harness.state_mut().state.view = view;
    if reference {
        stage.harness.state_mut().controls.side_role = SideRole::Reference;
    }
    stage.harness.run();
    stage.picture()
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/pictures")
}

/// Reads a stored picture: its size and its channels red, green, blue, alpha.
fn stored(path: &Path) -> Option<(usize, usize, Vec<u8>)> {
    let file = BufReader::new(File::open(path).ok()?);
    let mut reader = png::Decoder::new(file).read_info().expect("a picture");
    let mut bytes = vec![0; reader.output_buffer_size().expect("a size")];
    let info = reader.next_frame(&mut bytes).expect("a picture");
    bytes.truncate(info.buffer_size());
    Some((info.width as usize, info.height as usize, bytes))
}

/// Share of the pixels that differ; 1 where there is none or it has another size.
fn differs(new: &Picture, path: &Path) -> f64 {
    let Some((width, height, old)) = stored(path) else { return 1.0 };
    if (width, height) != (new.width, new.height) || old.len() != 4 * new.pixels.len() {
        return 1.0;
    }
    let other = |(pixel, old): (&egui::Color32, &[u8])| {
        let new = [pixel.r(), pixel.g(), pixel.b()];
        new.iter().zip(old).any(|(a, b)| a.abs_diff(*b) > SAME)
    };
    let others = new.pixels.iter().zip(old.chunks(4)).filter(|pair| other(*pair)).count();
    others as f64 / new.pixels.len() as f64
}

#[test]
fn documents_show_what_the_window_shows_today() {
    let write = std::env::var_os("BRUNT_DOCUMENTS").is_some_and(|value| value == "write");
    std::fs::create_dir_all(folder()).expect("a folder");
    let mut stale = Vec::new();
    for version in Version::ALL {
        let display = display(version);
        let mut pictures = vec![(version.name(), View::Hits)];
        if version == Version::Timing {
            pictures.push(("parts", View::Parts));
        }
        for (name, view) in pictures {
            let picture = picture(display.clone(), view);
            let path = folder().join(format!("{name}.png"));
            if write {
                picture.save(&path);
            }
            let share = differs(&picture, &path);
            if share > MAY_DIFFER {
                stale.push(format!("{name}: {:.1} % of its pixels", 100.0 * share));
            }
        }
    }
    assert!(
        stale.is_empty(),
        "docs/pictures differ from the window: {stale:?}. If that is meant: BRUNT_DOCUMENTS=write \
         cargo test -p brunt-tests --test editor documents"
    );
}

/// The comparison finds a picture that shows something else.
#[test]
fn a_stale_picture_is_found() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("empty.png");
    picture(crate::sample::empty(), View::Hits).save(&path);
    let share = differs(&picture(crate::sample::ceiling(), View::Hits), &path);
    assert!(share > MAY_DIFFER, "{share}");
    assert!(differs(&picture(crate::sample::empty(), View::Hits), &path) <= 0.0);
    assert!(differs(&picture(crate::sample::empty(), View::Hits), &folder.path().join("x")) >= 1.0);
}

//! What the parts' audio says of the mix: costs with each cause taken out, and strokes of the drums
//! that the mix drowns.
//!
//! Of files whose audio is not kept, one at a time is read again, so that a long song fits into memory.

use std::sync::Arc;

use brunt_engine::parts::PartsReading;
use brunt_engine::parts::buried::Strokes;
use brunt_engine::parts::cost::Arrangement;
use brunt_engine::parts::remix::{self, Planes, Remix};
use brunt_report::report::Report;

use super::shown::Heard;
use super::{Parts, decode};
use crate::analyse::Options;
use crate::error::Error;

/// Longest passage whose costs are measured on the parts' audio, s: a song of twenty minutes takes
/// about 4 GB of memory at 48 kHz. Beyond it they stay estimated.
const LONGEST_S: f64 = 1_200.0;

impl Parts {
    /// Measures the costs again on the parts' audio, and adds the strokes that the mix drowns.
    pub(super) fn remeasure(
        &self,
        report: &mut Report,
        reading: &mut PartsReading,
        options: &Options,
    ) -> Result<Option<Heard>, Error> {
        let Some(track) = self.session.tracks.first() else { return Ok(None) };
        if report.mix.duration_s > LONGEST_S {
            return Ok(None);
        }
        let rate = report.mix.sample_rate_hz;
        let arrangement = Arrangement::new(&self.session.tracks);
        let from_s = report.mix.from_s;
        let frame = |time_s: f64| ((time_s - from_s) * rate).max(0.0) as u64;
        let hits: Vec<u64> = report.hits.iter().map(|hit| frame(hit.time_s)).collect();
        let strokes = Strokes::new(&hits, &arrangement, rate);
        let mix: Arc<Planes> = match (&self.mix, &self.sum) {
            (Some(mix), _) => decode(mix, options)?.planes,
            (None, Some(sum)) => Arc::new(sum.planes.to_vec()),
            (None, None) => return Ok(None),
        };
        if arrangement.has_drums() {
            let cells = remix::weighted_cells(&mix, rate, track.cell_frames);
            report.add_missed(&strokes.missed(&cells, track.cell_frames));
        }
        let places = (&strokes.frames[..], strokes.counted.clone());
        let mut remix = Remix::new(rate, track.cell_frames, &mix, places);
        drop(mix);
        let mut load = |part: usize| self.audio(part, options);
        remix.find_faders(self.files.len(), &mut load)?;
        let limits = &options.thresholds;
        let undone = remix::measure(&self.session, reading, limits, &remix, &mut load)?;
        Ok(Some(Heard { remix, undone, strokes }))
    }
}

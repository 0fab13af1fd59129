//! Bringing the readings up to date, in two halves of what is too dear for every hop.

use super::Meter;
use crate::balance::Heard;
use crate::compare::measured_ceiling;
use crate::decibels::magnitude_db;
use crate::spectrum::THIRDS;
use crate::thresholds as t;
use crate::{HistoryPoint, Need, PartLeak, SideRole, SmallSpeaker};

impl Meter {
    /// Brings the spectra's readings up to date: half of what is too dear for every hop.
    #[inline(never)]
    pub(super) fn spectral_readings(&mut self) {
        let readings = &mut self.readings;
        let thirds = &self.spectrum.thirds();
        let (balance, tone) = self.curve.balance(&self.band_power, thirds);
        readings.balance = balance;
        let hop_s = self.hop.frames as f64 / self.config.sample_rate_hz;
        let side = self.side_spectrum.thirds_dbfs();
        if self.side_role == SideRole::Before {
            readings.balance.before_thirds_dbfs = side;
        }
        let (reference, enough) = match self.assumed_reference {
            Some(assumed) => (assumed, true),
            None if self.side_role == SideRole::Reference => {
                (side, self.reference_hops as f64 * hop_s >= t::BALANCE_LEAST_S)
            }
            None => ([None; THIRDS], false),
        };
        readings.balance.reference_thirds_dbfs = reference;
        let heard = Heard {
            tone: tone.as_ref(),
            thirds,
            over_time: &self.over_time,
            programme_s: self.loud_hops as f64 * hop_s,
            reference: enough.then_some(&reference),
        };
        readings.leaks.mids = self.curve.mids(&heard, &self.thresholds);
    }

    /// The other half: punch, what a ceiling costs it, and the comparison.
    #[inline(never)]
    pub(super) fn punch_readings(&mut self) {
        let readings = &mut self.readings;
        readings.punch = self.contrast.all();
        readings.punch_recent = self.contrast.recent();
        let small = self.small_contrast.all();
        readings.small_speaker = SmallSpeaker {
            contrast_db: small.contrast_db,
            contrast_p10_db: small.contrast_p10_db,
            contrast_p90_db: small.contrast_p90_db,
            vanished: (small.hits > 0).then_some(self.vanished),
        };
        if readings.compare.is_some() || readings.side.signal {
            readings.compare = Some(self.comparison.read(self.aligner.alignment()));
        }
        let leaks = &mut readings.leaks;
        [leaks.ceiling, readings.ceiling_recent] = self.ceiling.read(&self.thresholds);
        if let Some(compare) = &readings.compare
            && let Some(measured) = measured_ceiling(compare, &leaks.ceiling, &self.thresholds)
        {
            leaks.ceiling = measured;
            // The last hits are measured, too, once there are enough of them.
            let section = self.comparison.section(compare).and_then(|section| {
                measured_ceiling(&section, &readings.ceiling_recent, &self.thresholds)
            });
            readings.ceiling_recent = section.unwrap_or_default();
        }
        leaks.timing = PartLeak { need: Need::Parts, ..PartLeak::default() };
        leaks.clutter = PartLeak { need: Need::Parts, ..PartLeak::default() };
        leaks.drive = PartLeak { need: Need::GuitarPart, ..PartLeak::default() };
    }

    pub(super) fn history_point(&self) -> HistoryPoint {
        let readings = &self.readings;
        let peak = f64::from(self.point_peak);
        HistoryPoint {
            time_s: (self.hops as usize * self.hop.frames) as f64 / self.config.sample_rate_hz,
            short_term_lufs: readings.loudness.short_term_lufs,
            true_peak_dbtp: (peak > 0.0).then(|| magnitude_db(peak)),
            contrast_db: readings.punch_recent.contrast_db,
            costs_db: readings.leaks.costs_db(),
        }
    }
}

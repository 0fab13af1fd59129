//! Take B: the guitars' notes again, at another gain, in the place of the parts.

use std::path::{Path, PathBuf};

use brunt_engine::parts::cost::Arrangement;
use brunt_engine::parts::{PartRole, PartTrack, drive};
use brunt_engine::{Config, LeakKind};
use brunt_files::whole::{Whole, silence_bad};
use brunt_report::words::listen as say;
use brunt_report::words::{part_name, takes_say};

use super::versions::{Draft, Song};
use crate::error::{Error, Fault, FileFault};
use crate::parts::{PartFile, Parts, Shown, fits};

/// The guitars among parts, by number: takes follow their order.
fn guitars(tracks: &[PartTrack]) -> impl Iterator<Item = usize> + '_ {
    (0..tracks.len()).filter(|&part| tracks[part].role == PartRole::Guitars)
}

/// Checks that there is a guitar part for every take.
///
/// # Errors
/// [`Fault::NoGuitar`] of the first take without one.
pub(super) fn check(takes: &[PathBuf], parts: &[PartFile]) -> Result<(), Error> {
    let guitars = parts.iter().filter(|part| part.role == PartRole::Guitars).count();
    takes.get(guitars).map_or(Ok(()), |take| Err(Fault::NoGuitar { guitars }.of(take)))
}

/// One take in its part's place.
struct Take {
    part: usize,
    track: PartTrack,
    /// As loud as the part.
    planes: Vec<Vec<f32>>,
    gain: f32,
}

impl Song<'_> {
    /// The mix with take B of its guitars, as loud as the parts are in it.
    pub(super) fn add_take_b(
        &self,
        span: (usize, usize),
        base: &'static str,
        (parts, shown): (&Parts, &Shown),
        drafts: &mut Vec<Draft>,
    ) -> Result<(), Error> {
        let Some(heard) = shown.heard.as_ref().filter(|_| !self.takes.is_empty()) else {
            return Ok(());
        };
        let tracks = &parts.session.tracks;
        let mut change = heard.remix.unchanged();
        let (mut powers, mut said) = (tracks.clone(), Vec::new());
        let mut taken = Vec::new();
        for (part, file) in guitars(tracks).zip(self.takes) {
            let before = parts.audio(part, self.options)?;
            let take = self.take(file, part, &tracks[part], before.len())?;
            let fader = &heard.remix.faders()[part];
            fader.add(&before, -1.0, &mut change.audio);
            fader.add(&take.planes, 1.0, &mut change.audio);
            heard.remix.rest(part, &before, &take.planes, &mut change.rest);
            if let Some(takes) = drive::compare(&take.track, &tracks[part]) {
                said.push(takes_say(&part_name(&take.track), &part_name(&tracks[part]), &takes));
            }
            powers[part] = take.track.clone();
            taken.push(take);
        }
        let predicted = heard.remix.gains_at(heard.remix.gains_db(&change));
        let (now, then) = (Arrangement::new(tracks), Arrangement::new(&powers));
        let changes: Vec<(usize, Vec<f32>)> = taken
            .iter()
            .map(|take| {
                let share = take.gain * take.gain;
                (take.part, then.power(take.part).iter().map(|power| power * share).collect())
            })
            .collect();
        let estimated = now.gains_at(&now.gains_db(&changes));
        let planes = self.changed(&heard.remix, &change.audio, span);
        drafts.push(Draft {
            leak: Some(LeakKind::Drive),
            against: Some(base),
            estimated_db: self.gain_here(&estimated, span),
            predicted_db: self.gain_here(&predicted, span),
            ..self.draft("take-b", say::TAKE_B, &say::take_b_what(&said), planes)
        });
        Ok(())
    }

    /// Reads a take of `part`, in as many channels, and makes it as loud.
    fn take(
        &self,
        file: &Path,
        part: usize,
        track: &PartTrack,
        channels: usize,
    ) -> Result<Take, Error> {
        let fault = |fault: Fault| fault.of(file);
        let mut whole = Whole::read(file)?;
        let input = silence_bad(&mut whole.planes);
        let rate_hz = f64::from(whole.sample_rate_hz);
        let frames = whole.planes.first().map_or(0, Vec::len);
        fits(rate_hz, frames as f64 / rate_hz, self.report).map_err(fault)?;
        let mut planes = in_channels(whole.planes, channels);
        let config = Config { sample_rate_hz: rate_hz, channels };
        let slices: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
        let name = file.to_string_lossy();
        let own = PartTrack::measure(PartRole::Guitars, &name, config, &slices)
            .map_err(|e| fault(FileFault::NotAudio(e.to_string()).into()))?;
        if own.is_silent() {
            return Err(fault(Fault::silent(None, input)));
        }
        let gain = (track.power() / own.power()).sqrt() as f32;
        planes.iter_mut().flatten().for_each(|x| *x *= gain);
        Ok(Take { part, track: own, planes, gain })
    }
}

/// One or two planes as one or two: a fader knows its part's channels.
fn in_channels(mut planes: Vec<Vec<f32>>, channels: usize) -> Vec<Vec<f32>> {
    if let ([left, right], 1) = (&planes[..], channels) {
        return vec![left.iter().zip(right).map(|(l, r)| 0.5 * (l + r)).collect()];
    }
    if let ([mono], 2) = (&planes[..], channels) {
        planes.push(mono.clone());
    }
    planes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_need_a_guitar_each() {
        let part = |role| PartFile { role, path: "a.wav".into() };
        let parts = [part(PartRole::Drums), part(PartRole::Guitars)];
        let takes: Vec<PathBuf> = vec!["one.wav".into(), "two.wav".into()];
        assert!(check(&takes[..1], &parts).is_ok() && check(&[], &[]).is_ok());
        let fault = check(&takes, &parts).expect_err("one guitar, two takes").to_string();
        assert!(fault.starts_with("two.wav: ") && fault.contains("--part guitars"), "{fault}");
    }

    #[test]
    fn a_take_has_the_channels_of_its_part() {
        let stereo = vec![vec![1.0, 2.0], vec![3.0, 6.0]];
        assert_eq!(in_channels(stereo.clone(), 1), [vec![2.0, 4.0]]);
        assert_eq!(in_channels(stereo.clone(), 2), stereo);
        assert_eq!(in_channels(vec![vec![1.0]], 2), [vec![1.0], vec![1.0]]);
    }
}

//! Rows for the fit of the onset judge: evidence, and where the nearest note is.

use super::RATE;
use brunt_engine::Config;
use brunt_engine::parts::{ONSET_EVIDENCE, OnsetEvidence, PartMeter, PartSink};
use brunt_lab::corpus::CorpusError;
use brunt_lab::corpus::audio::db;
use brunt_lab::corpus::mix::Library;
use brunt_lab::session::{Plan, Stem, drawn, render, roles, tuning};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use std::io::Write;
use std::path::Path;

/// Cells around a note that are all kept, s.
const NEAR_S: f64 = 0.012;
/// Share of the other cells that is kept.
const FAR_SHARE: f64 = 0.12;

/// Writes rows of little-endian f32: session, kind of part, time from the nearest note (ms,
/// positive behind it), evidence.
pub fn write(path: &Path, count: u64, seed: u64) -> Result<(), CorpusError> {
    let mut plans: Vec<Plan> = (0..count).map(|n| drawn::draw(seed + n, 14.0)).collect();
    plans.extend(tuning::all());
    let rows: Vec<Vec<f32>> = plans
        .par_iter()
        .enumerate()
        .map_init(Library::default, |library, (number, plan)| {
            let session = render(plan, RATE, library)?;
            let mut rows = Vec::new();
            for (index, stem) in session.stems.iter().enumerate() {
                let head = [number as f32, super::onsets::kind_number(&plan.layers[index])];
                rows.extend(stem_rows(stem, head, plan.seed ^ index as u64));
            }
            Ok(rows)
        })
        .collect::<Result<_, CorpusError>>()?;
    let mut file = std::fs::File::create(path).map_err(|e| CorpusError::file(path, e))?;
    for rows in rows {
        let bytes: Vec<u8> = rows.iter().flat_map(|x| x.to_le_bytes()).collect();
        file.write_all(&bytes).map_err(|e| CorpusError::file(path, e))?;
    }
    println!("{} numbers a row", ONSET_EVIDENCE + 3);
    Ok(())
}

fn stem_rows(stem: &Stem, head: [f32; 2], seed: u64) -> Vec<f32> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut audio = roles::coloured(stem.audio.clone(), &mut random);
    // A floor of noise, as recorded stems have one; none now and then, as edited ones.
    if random.random_bool(0.75) {
        let level = db(random.random_range(-95.0..-55.0));
        for x in audio.left.iter_mut().chain(audio.right.iter_mut()) {
            *x += level * random.random_range(-1.0f32..1.0);
        }
    }
    let times = stem.times_s(0.015);
    let mut rows = Rows { out: Vec::new(), times, next: 0, head, random };
    let config = Config { sample_rate_hz: f64::from(RATE), channels: 2 };
    let mut meter = PartMeter::new(config).expect("a rate");
    meter.judge_every_moment();
    meter.process(&audio.channels(), &mut rows);
    rows.out
}

struct Rows {
    out: Vec<f32>,
    times: Vec<f64>,
    next: usize,
    head: [f32; 2],
    random: Pcg64Mcg,
}

impl PartSink for Rows {
    fn evidence(&mut self, cell: u64, evidence: &OnsetEvidence) {
        let time = cell as f64 * 1e-3;
        let from = |n: usize| self.times.get(n).map_or(f64::INFINITY, |t| (time - t).abs());
        while from(self.next + 1) < from(self.next) {
            self.next += 1;
        }
        let Some(nearest) = self.times.get(self.next) else { return };
        let late = time - nearest;
        if late.abs() <= NEAR_S || self.random.random_bool(FAR_SHARE) {
            self.out.extend(self.head);
            self.out.push((late * 1e3) as f32);
            self.out.extend(evidence);
        }
    }
}

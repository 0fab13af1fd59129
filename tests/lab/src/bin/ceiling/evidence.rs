//! From traces to evidence: the windows of each file, worked out by the engine's own code.

use std::error::Error;
use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Write};

use brunt_engine::{TRACE, Trace, ceiling_evidence, evidence_names};
use brunt_lab::corpus::ceiling::quantile;

/// Hits from one window to the next.
const STEP: usize = 16;
/// Fewest hits of a window: the engine's own.
const LEAST: usize = brunt_engine::thresholds::CEILING_LEAST_HITS as usize;
/// Columns ahead of the trace: file, song, kit, processor, drive_db, after, reduction_db, lost_db.
const META: usize = 8;

/// A hit as it stands in a file of traces.
struct Hit {
    meta: String,
    reduction_db: f64,
    trace: Trace,
}

/// Writes one row a window of `size` hits at most.
pub fn write(traces: &str, out: &str, size: usize) -> Result<(), Box<dyn Error>> {
    let lines = BufReader::new(File::open(traces).map_err(|e| format!("{traces}: {e}"))?).lines();
    let mut out = BufWriter::new(File::create(out).map_err(|e| format!("{out}: {e}"))?);
    write!(out, "file,song,kit,processor,drive_db,after,hits,median_db,p90_db,max_db")?;
    for name in evidence_names() {
        write!(out, ",{name}")?;
    }
    writeln!(out)?;
    let mut hits: Vec<Hit> = Vec::new();
    for line in lines.skip(1) {
        // The last line of a run that was cut short is dropped.
        let Some(hit) = parse(&line?) else { continue };
        if hits.first().is_some_and(|first| first.meta != hit.meta) {
            file(&mut out, &hits, size)?;
            hits.clear();
        }
        hits.push(hit);
    }
    file(&mut out, &hits, size)?;
    out.flush()?;
    Ok(())
}

fn parse(line: &str) -> Option<Hit> {
    let cells: Vec<&str> = line.split(',').collect();
    if cells.len() != META + TRACE {
        return None;
    }
    let mut trace = [0.0; TRACE];
    for (value, cell) in trace.iter_mut().zip(&cells[META..]) {
        *value = cell.parse().ok()?;
    }
    Some(Hit { meta: cells[..6].join(","), reduction_db: cells[6].parse().ok()?, trace })
}

fn file(out: &mut impl Write, hits: &[Hit], size: usize) -> std::io::Result<()> {
    if hits.len() < LEAST {
        return Ok(());
    }
    let mut ends: Vec<usize> = (size.min(hits.len())..=hits.len()).step_by(STEP).collect();
    if ends.last() != Some(&hits.len()) {
        ends.push(hits.len());
    }
    for end in ends {
        let window = &hits[end.saturating_sub(size)..end];
        let traces: Vec<Trace> = window.iter().map(|hit| hit.trace).collect();
        let at = |q| quantile(window.iter().map(|hit| hit.reduction_db).collect(), q);
        write!(
            out,
            "{},{},{:.3},{:.3},{:.3}",
            window[0].meta,
            window.len(),
            at(0.5),
            at(0.9),
            at(1.0)
        )?;
        for value in ceiling_evidence(&traces) {
            write!(out, ",{value:.4}")?;
        }
        writeln!(out)?;
    }
    Ok(())
}

//! Loudness of a file beside ffmpeg's `ebur128` filter (libavfilter, a separate implementation in
//! a separate process, run at test time).

use crate::support::{RATE, close, directory, ffmpeg, measure, path_text, programme, write_wav};

/// The number after `label` in ffmpeg's summary.
fn figure(summary: &str, label: &str) -> Option<f64> {
    let after = summary.split_once(label)?.1;
    after.split_whitespace().next()?.parse().ok()
}

/// ffmpeg prints one decimal, so 0.05 of each tolerance is its rounding. Integrated loudness: 0.1
/// LU (EBU Tech 3341 asks for it). Range: 1 LU is the tolerance of Tech 3342; 0.1 is asked for here. True
/// peak: +0.2/-0.4 dB is that of Tech 3341 for each of the two meters; 0.3 is asked for here.
#[test]
fn integrated_range_and_peak_agree_with_ffmpeg() {
    let d = directory();
    for rate in [44_100, RATE, 96_000] {
        let file = d.path().join("p.wav");
        // Half of it 10 dB down, so that there is a range; long, since ffmpeg counts short-term
        // windows that are not yet filled, and Tech 3342 does not.
        let mut planes = programme(60.0);
        for plane in &mut planes {
            let half = plane.len() / 2;
            plane[..half].iter_mut().for_each(|x| *x *= 0.316);
        }
        write_wav(&file, &planes, rate, 24);
        let said = ffmpeg(&[
            "-i",
            path_text(&file),
            "-af",
            "ebur128=peak=true:framelog=verbose",
            "-f",
            "null",
            "-",
        ]);
        let summary = said.rsplit_once("Summary:").expect("a summary").1;
        let got = measure(&file).loudness;
        println!("{rate} Hz: {got:?}\n{summary}");
        close("I, LUFS", got.integrated_lufs, figure(summary, "I:"), 0.1);
        close("LRA, LU", got.range_lu, figure(summary, "LRA:"), 0.1);
        close("TP, dBTP", got.true_peak_dbtp, figure(summary, "Peak:"), 0.3);
    }
}

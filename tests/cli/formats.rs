//! One programme in every format: the same numbers, within what the format keeps.

use std::num::NonZeroUsize;

use brunt_cli::analyse::{Options, analyse};
use brunt_report::report::Report;

use crate::support::{
    RATE, close, directory, ffmpeg, measure, path_text, programme, programme_wav, write_wav,
};

/// The report without the name of its file.
fn nameless(mut report: Report) -> Report {
    report.mix.file.clear();
    report
}

/// FLAC and AIFF keep every bit of 24: not one number may differ.
#[test]
fn lossless_formats_give_equal_reports() {
    let d = directory();
    let wav = programme_wav(d.path(), 12.0);
    let want = nameless(measure(&wav));
    for (name, codec) in [("p.flac", "flac"), ("p.aiff", "pcm_s24be"), ("q.wav", "pcm_s32le")] {
        let file = d.path().join(name);
        ffmpeg(&["-i", path_text(&wav), "-c:a", codec, path_text(&file)]);
        assert_eq!(nameless(measure(&file)), want, "{name}");
    }
}

/// Rounding to 16 or 24 bits adds noise at -98 or -146 dBFS (step over root 12): far under a
/// programme of -20 LUFS, so 0.01 LU and 0.01 dB.
#[test]
fn word_lengths_differ_by_their_rounding_alone() {
    let d = directory();
    let file = d.path().join("p.wav");
    let planes = programme(12.0);
    write_wav(&file, &planes, RATE, 32);
    let want = measure(&file);
    for bits in [16, 24] {
        write_wav(&file, &planes, RATE, bits);
        let got = measure(&file);
        let (got_l, want_l) = (got.loudness, want.loudness);
        close("I, LUFS", got_l.integrated_lufs, want_l.integrated_lufs, 0.01);
        close("TP, dBTP", got_l.true_peak_dbtp, want_l.true_peak_dbtp, 0.01);
        close("LRA, LU", got_l.range_lu, want_l.range_lu, 0.02);
        assert_eq!(got.punch.hits, want.punch.hits, "{bits} bits");
    }
}

/// Float files may exceed full scale: +6.02 dBFS stays +6.02 dBFS.
#[test]
fn float_above_full_scale_is_not_clipped() {
    let d = directory();
    let file = d.path().join("hot.wav");
    let sine: Vec<f32> = (0..48_000).map(|n| 2.0 * (n as f32 * 0.25).sin()).collect();
    write_wav(&file, &[sine], RATE, 32);
    close("peak, dBFS", measure(&file).loudness.sample_peak_dbfs, Some(6.02), 0.01);
}

/// NaN and infinity are counted, measured as silence, and told.
#[test]
fn samples_that_are_no_numbers_are_counted() {
    let d = directory();
    let file = d.path().join("nan.wav");
    let mut planes = programme(3.0);
    planes[0][5_000] = f32::NAN;
    planes[0][5_001] = f32::NAN;
    planes[1][9_000] = f32::INFINITY;
    write_wav(&file, &planes, RATE, 32);
    let report = measure(&file);
    assert_eq!((report.input.nan_samples, report.input.inf_samples), (2, 1));
    assert!(report.loudness.integrated_lufs.is_some_and(f64::is_finite));
}

/// Lossy codecs at a high rate: loudness to 0.2 LU, true peak to 1 dB, the hits within one, the
/// length to the frame (both carry it). Tolerances are ours: what a codec changes is not specified.
#[test]
fn lossy_formats_come_close() {
    let d = directory();
    let wav = programme_wav(d.path(), 12.0);
    let want = measure(&wav);
    for (name, codec, rate) in [("p.mp3", "libmp3lame", "320k"), ("p.ogg", "libvorbis", "256k")] {
        let file = d.path().join(name);
        ffmpeg(&["-i", path_text(&wav), "-c:a", codec, "-b:a", rate, path_text(&file)]);
        let got = measure(&file);
        println!("{name}: {:?}, {} hits", got.loudness, got.punch.hits);
        let (got_l, want_l) = (got.loudness, want.loudness);
        close("I, LUFS", got_l.integrated_lufs, want_l.integrated_lufs, 0.2);
        close("TP, dBTP", got_l.true_peak_dbtp, want_l.true_peak_dbtp, 1.0);
        close("length, s", Some(got.mix.duration_s), Some(12.0), 1.0 / f64::from(RATE));
        assert!(got.punch.hits.abs_diff(want.punch.hits) <= 1, "{name}: {} hits", got.punch.hits);
        close("contrast, dB", got.punch.contrast_db, want.punch.contrast_db, 1.0);
    }
}

/// Mono is one channel, not the same twice: 3.01 LU under its stereo copy (BS.1770-5: the sum over
/// channels).
#[test]
fn mono_is_one_channel() {
    let d = directory();
    let file = d.path().join("p.wav");
    let [left, _] = programme(6.0);
    write_wav(&file, std::slice::from_ref(&left), RATE, 24);
    let mono = measure(&file);
    write_wav(&file, &[left.clone(), left], RATE, 24);
    let stereo = measure(&file);
    assert_eq!((mono.mix.channels, stereo.mix.channels), (1, 2));
    let want = stereo.loudness.integrated_lufs.map(|x| x - 10.0 * 2_f64.log10());
    close("I, LUFS", mono.loudness.integrated_lufs, want, 0.01);
    assert_eq!(mono.punch.hits, stereo.punch.hits);
}

/// A program that writes into a pipe leaves the lengths open: all that follows is measured.
#[test]
fn open_lengths_of_a_pipe_are_read_to_the_end() {
    let d = directory();
    let wav = d.path().join("p.wav");
    write_wav(&wav, &programme(3.01), RATE, 16);
    let want = nameless(measure(&wav));
    let mut bytes = std::fs::read(&wav).expect("read");
    let data = bytes.windows(4).position(|w| w == b"data").expect("a data chunk");
    bytes[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
    bytes[data + 4..data + 8].copy_from_slice(&u32::MAX.to_le_bytes());
    std::fs::write(&wav, bytes).expect("written");
    assert_eq!(nameless(measure(&wav)), want);
}

/// The numbers do not depend on how many frames reach the engine at a time.
#[test]
fn block_size_changes_nothing() {
    let d = directory();
    let wav = programme_wav(d.path(), 4.0);
    let want = measure(&wav).to_json().expect("JSON");
    for frames in [1, 7, 64, 441, 1_000] {
        let options = Options { block_frames: NonZeroUsize::new(frames), ..Options::default() };
        let got = analyse(&wav, &options, &mut |_| {}).expect("a good file");
        assert_eq!(got.to_json().expect("JSON"), want, "{frames} frames at a time");
    }
}

//! Each bad input: exit status 2, one line on standard error that names the file, the value and
//! what was expected, nothing on standard output, and no output file.

use std::fs;
use std::path::Path;

use crate::support::{
    RATE, brunt, check, directory, ffmpeg, path_text, programme, programme_wav, text, write_wav,
};

/// Runs a check that must be refused, with words that its message must hold.
#[track_caller]
fn refused(file: &Path, args: &[&str], words: &[&str]) {
    let out_directory = directory();
    let json = out_directory.path().join("out.json");
    let mut all = vec!["--json", path_text(&json)];
    all.extend(args);
    let output = check(file, &all);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert_eq!(said.lines().count(), 1, "one line: {said}");
    assert!(said.starts_with("brunt: "), "{said}");
    assert!(said.contains(path_text(file)), "names the file: {said}");
    for word in words {
        assert!(said.contains(word), "names {word:?}: {said}");
    }
    assert!(output.stdout.is_empty(), "{}", text(&output.stdout));
    let left = fs::read_dir(out_directory.path()).expect("a directory").count();
    assert_eq!(left, 0, "no output file, whole or in part");
}

#[test]
fn missing() {
    refused(&directory().path().join("no.wav"), &[], &["no such file"]);
}

#[test]
fn a_directory() {
    let d = directory();
    refused(d.path(), &[], &["a folder", "expected", "WAV"]);
}

#[test]
fn empty() {
    let d = directory();
    for name in ["e.wav", "e.mp3", "e"] {
        let file = d.path().join(name);
        fs::write(&file, []).expect("written");
        refused(&file, &[], &["empty file", "0 bytes"]);
    }
}

#[test]
fn not_audio() {
    let d = directory();
    let file = d.path().join("notes.wav");
    fs::write(&file, "Shopping: strings, picks, drum keys.\n".repeat(400)).expect("written");
    refused(&file, &[], &["no audio found", "expected WAV, AIFF, FLAC, MP3 or Ogg Vorbis"]);
}

#[test]
fn truncated_wav_names_both_lengths() {
    let d = directory();
    let file = programme_wav(d.path(), 3.0);
    let whole = fs::read(&file).expect("read");
    fs::write(&file, &whole[..whole.len() - 48_000 * 6]).expect("written");
    refused(&file, &[], &["cut short", "2.000 s (96000 frames)", "3.000 s (144000 frames)"]);
    fs::write(&file, &whole[..20]).expect("written");
    refused(&file, &[], &["expected"]);
}

#[test]
fn truncated_compressed_and_aiff() {
    let d = directory();
    let wav = programme_wav(d.path(), 4.0);
    for (name, words) in [
        ("cut.aiff", ["cut short", "4.000 s (192000 frames)"]),
        ("cut.flac", ["cut short", "4.000 s (192000 frames)"]),
        ("cut.mp3", ["cut short", "4.000 s (192000 frames)"]),
        ("cut.ogg", ["cut short", "without its end mark"]),
    ] {
        let file = d.path().join(name);
        ffmpeg(&["-i", path_text(&wav), path_text(&file)]);
        let whole = fs::read(&file).expect("read");
        fs::write(&file, &whole[..whole.len() / 2]).expect("written");
        refused(&file, &[], &words);
    }
}

#[test]
fn damaged_flac_differs_from_its_checksum() {
    let d = directory();
    let wav = programme_wav(d.path(), 2.0);
    let file = d.path().join("damaged.flac");
    ffmpeg(&["-i", path_text(&wav), path_text(&file)]);
    let mut bytes = fs::read(&file).expect("read");
    // The MD5 of the audio ends STREAMINFO: bytes 26 to 41 of the file (RFC 9639, 8.2).
    bytes[30] ^= 0xff;
    fs::write(&file, bytes).expect("written");
    refused(&file, &[], &["damaged", "does not match its checksum"]);
}

/// The forms of WAV for large files, as ffmpeg writes them, and the third by its name.
#[test]
fn large_forms_of_wav_are_named_with_what_to_export() {
    let d = directory();
    let wav = programme_wav(d.path(), 1.0);
    let [rf64, w64, bw64] = ["large.wav", "large.w64", "bw64.wav"].map(|name| d.path().join(name));
    ffmpeg(&["-i", path_text(&wav), "-rf64", "always", path_text(&rf64)]);
    ffmpeg(&["-i", path_text(&wav), path_text(&w64)]);
    let mut bytes = fs::read(&rf64).expect("read");
    bytes[..4].copy_from_slice(b"BW64");
    fs::write(&bw64, bytes).expect("written");
    for (file, form) in [(rf64, "RF64"), (w64, "W64"), (bw64, "BW64")] {
        refused(&file, &[], &[&format!("{form} cannot be read; export it as FLAC"), "4 GB"]);
    }
}

/// A WAV header by hand: format, channels, rate and bits as given, over a second of 16-bit noise.
fn wav(channels: u16, rate: u32, bits: u16) -> Vec<u8> {
    let data: Vec<u8> =
        (0..192_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 25) as u8).collect();
    let block = channels.wrapping_mul(bits / 8);
    let mut b = Vec::new();
    b.extend(b"RIFF");
    b.extend((36 + data.len() as u32).to_le_bytes());
    b.extend(b"WAVEfmt ");
    b.extend(16_u32.to_le_bytes());
    b.extend(1_u16.to_le_bytes());
    b.extend(channels.to_le_bytes());
    b.extend(rate.to_le_bytes());
    b.extend(rate.wrapping_mul(u32::from(block)).to_le_bytes());
    b.extend(block.to_le_bytes());
    b.extend(bits.to_le_bytes());
    b.extend(b"data");
    b.extend((data.len() as u32).to_le_bytes());
    b.extend(data);
    b
}

#[test]
fn channels_and_rates_out_of_range() {
    let d = directory();
    let file = d.path().join("header.wav");
    for (channels, rate, words) in [
        (0, 48_000, ["0 channels", "expected 1 to 2"]),
        (3, 48_000, ["3 channels", "expected 1 to 2"]),
        (6, 48_000, ["6 channels", "expected 1 to 2"]),
        (65_535, 48_000, ["65535 channels", "expected 1 to 2"]),
        (2, 0, ["0 Hz", "expected 8000 to 384000 Hz"]),
        (2, 7_999, ["7999 Hz", "expected 8000 to 384000 Hz"]),
        (2, 400_000, ["400000 Hz", "expected 8000 to 384000 Hz"]),
        (2, u32::MAX, ["4294967295 Hz", "expected 8000 to 384000 Hz"]),
    ] {
        fs::write(&file, wav(channels, rate, 16)).expect("written");
        refused(&file, &[], &words);
    }
    fs::write(&file, wav(2, 48_000, 16)).expect("written");
    assert_eq!(check(&file, &[]).status.code(), Some(0), "the same header with good values");
}

#[test]
fn more_than_two_channels_in_other_formats() {
    let d = directory();
    for name in ["six.flac", "six.ogg", "six.aiff"] {
        let file = d.path().join(name);
        ffmpeg(&["-f", "lavfi", "-i", "anoisesrc=d=1", "-ac", "6", path_text(&file)]);
        refused(&file, &[], &["6 channels", "expected 1 to 2"]);
    }
}

#[test]
fn silent() {
    let d = directory();
    let file = d.path().join("silent.wav");
    write_wav(&file, &[vec![0.0; 96_000], vec![0.0; 96_000]], RATE, 16);
    refused(&file, &[], &["silent", "every sample is 0", "nothing above -70 LUFS"]);
    let mut broken = vec![f32::NAN; 96_000];
    broken[7] = f32::INFINITY;
    write_wav(&file, &[broken, vec![0.0; 96_000]], RATE, 32);
    refused(&file, &[], &["silent", "96000 samples are not a number or over +60 dBFS"]);
    // -80 dBFS: under the gate, and not nothing.
    let faint: Vec<f32> = (0..96_000).map(|n| 1e-4 * (n as f32 * 0.13).sin()).collect();
    write_wav(&file, &[faint], RATE, 24);
    refused(&file, &[], &["silent", "-80.0 dBFS", "nothing above -70 LUFS"]);
}

#[test]
fn shorter_than_400_ms() {
    let d = directory();
    let file = d.path().join("short.wav");
    write_wav(&file, &programme(0.399), RATE, 16);
    refused(&file, &[], &["0.399 s", "expected 0.400 s or more"]);
    write_wav(&file, &[Vec::new()], RATE, 16);
    refused(&file, &[], &["0.000 s", "expected 0.400 s or more"]);
    write_wav(&file, &programme(0.4), RATE, 16);
    assert_eq!(check(&file, &[]).status.code(), Some(0), "400 ms is enough");
}

#[test]
fn times_out_of_order_or_beyond_the_end() {
    let d = directory();
    let file = programme_wav(d.path(), 3.0);
    for (args, words) in [
        (["--from", "2", "--to", "1"], ["--from 2 s", "not before --to 1 s"]),
        (["--from", "2", "--to", "2"], ["--from 2 s", "not before --to 2 s"]),
        (["--from", "-1", "--to", "2"], ["--from -1 s", "expected 0 s or more"]),
        (["--from", "0", "--to", "nan"], ["--to NaN s", "expected 0 s or more"]),
        (["--from", "0", "--to", "inf"], ["--to inf s", "expected 0 s or more"]),
        (["--from", "1", "--to", "3.5"], ["--to 3.5 s", "beyond its end at 3.000 s"]),
        (["--from", "9", "--to", "10"], ["--from 9 s", "beyond its end at 3.000 s"]),
        (["--from", "1", "--to", "1.2"], ["0.200 s", "expected 0.400 s or more"]),
    ] {
        refused(&file, &args, &words);
    }
}

#[test]
fn outputs_that_cannot_be_written() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    let before = fs::read(&file).expect("read");
    let link = d.path().join("link.json");
    fs::hard_link(&file, &link).expect("a link");
    let folder = d.path().join("folder");
    fs::create_dir(&folder).expect("a directory");
    for (json, words) in [
        (file.clone(), ["would overwrite the input", "choose another file"]),
        (link.clone(), ["would overwrite the input", "choose another file"]),
        (folder, ["a directory", "cannot be written"]),
        (d.path().join("no/out.json"), ["no such directory", "cannot be written"]),
        (file.join("out.json"), ["cannot be written", "out.json"]),
    ] {
        let output = brunt()
            .args(["check", path_text(&file), "--json", path_text(&json)])
            .output()
            .expect("brunt runs");
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert_eq!(said.lines().count(), 1, "{said}");
        for word in words.into_iter().chain([path_text(&json)]) {
            assert!(said.contains(word), "names {word:?}: {said}");
        }
    }
    assert_eq!(fs::read(&file).expect("read"), before, "the input is as it was");
    // The input, its link and the folder: no temporary file is left.
    assert_eq!(fs::read_dir(d.path()).expect("a directory").count(), 3);
}

#[test]
fn a_name_with_a_line_feed_stays_on_one_line() {
    let output = check(Path::new("no\nsuch\x1b[31m.wav"), &[]);
    let said = text(&output.stderr);
    assert_eq!((output.status.code(), said.lines().count()), (Some(2), 1), "{said}");
    assert!(!said.contains('\x1b'), "{said:?}");
}
